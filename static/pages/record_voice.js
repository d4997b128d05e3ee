// Records a voice note into the form's own file field, so that the form sends it like a chosen file.
// Without this script, or a microphone, a file is chosen. Its words stand in the page (data-...).
const MAX_MS = 60_000;
const KINDS = ["audio/webm;codecs=opus", "audio/ogg;codecs=opus"];
const form = /** @type {HTMLFormElement | null} */ (document.querySelector("form[data-record]"));
const kind = globalThis.MediaRecorder && KINDS.find((one) => MediaRecorder.isTypeSupported(one));
if (form && kind && navigator.mediaDevices) offer(form, kind);

/**
 * @param {HTMLFormElement} form
 * @param {string} kind
 */
function offer(form, kind) {
  const button = /** @type {HTMLButtonElement} */ (form.querySelector("button[type=button]"));
  const status = /** @type {HTMLElement} */ (form.querySelector("[role=status]"));
  const field = /** @type {HTMLInputElement} */ (form.querySelector("input[type=file]"));
  const heard = /** @type {HTMLAudioElement} */ (form.querySelector("audio"));
  const { start = "", stop = "", recording = "", done = "", refused = "" } = form.dataset;
  /** @type {MediaRecorder | null} */
  let recorder = null;
  button.hidden = false;
  button.addEventListener("click", async () => {
    if (recorder) return recorder.stop();
    const stream = await navigator.mediaDevices.getUserMedia({ audio: true }).catch(() => null);
    if (!stream) {
      status.textContent = refused;
      return;
    }
    recorder = new MediaRecorder(stream, { mimeType: kind, audioBitsPerSecond: 20_000 });
    /** @type {Blob[]} */
    const parts = [];
    const timer = setTimeout(() => recorder?.stop(), MAX_MS);
    recorder.addEventListener("dataavailable", ({ data }) => parts.push(data));
    recorder.addEventListener("stop", () => {
      clearTimeout(timer);
      stream.getTracks().forEach((track) => track.stop());
      recorder = null;
      const blob = new Blob(parts, { type: kind.split(";")[0] });
      const files = new DataTransfer();
      files.items.add(new File([blob], "voice", { type: blob.type }));
      field.files = files.files;
      heard.src = URL.createObjectURL(blob);
      heard.hidden = false;
      button.textContent = start;
      status.textContent = done;
    });
    recorder.start();
    button.textContent = stop;
    status.textContent = recording;
  });
}
