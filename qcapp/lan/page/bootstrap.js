// The live test: a picture of the real server loads over https only when this phone trusts its certificate.

const DAY_MS = 86_400_000;
const PATIENCE_MS = 10_000;
const { picture, nowMs } = document.body.dataset;
const box = document.querySelector("#test");
let turn = 0;

function show(state) {
  box.dataset.state = state;
  for (const part of box.querySelectorAll(".state")) part.hidden = part.dataset.of !== state;
  document.querySelector("#open").hidden = state !== "good";
}

function test() {
  const mine = ++turn;
  const say = (state) => { if (mine === turn) { turn += 1; show(state); } };
  show("testing");
  const probe = new Image();
  probe.onload = () => say("good");
  probe.onerror = () => say("bad");
  setTimeout(() => say("silent"), PATIENCE_MS);
  // Never the browser's kept copy: it may be from before the certificate was removed.
  probe.src = `${picture}?at=${Date.now()}`;
}

// The server's time as this page was made; pages are never kept, so a day is far beyond any delay.
document.querySelector("#clock").hidden = Math.abs(Date.now() - Number(nowMs)) < DAY_MS;
document.querySelector("#again").addEventListener("click", test);
// Coming back from the phone's settings.
document.addEventListener("visibilitychange", () => { if (!document.hidden) test(); });
test();
