// Places a part by a tap on the drawing: the tap fills in the numbers of the form, in the drawing's
// own units, and shows the mark. Without this script the numbers are typed.
const figure = /** @type {HTMLElement} */ (document.getElementById("drawing"));
const svg = figure.querySelector("svg");
const form = /** @type {HTMLFormElement | null} */ (document.getElementById("place"));

if (svg && form) {
  const fieldOf = (/** @type {string} */ name) =>
    /** @type {HTMLInputElement} */ (form.elements.namedItem(name));
  const ring = document.createElementNS("http://www.w3.org/2000/svg", "circle");
  ring.setAttribute("class", "aim");

  const show = () => {
    const [x, y, width] = ["x", "y", "width"].map((name) =>
      Number(fieldOf(name).value.replace(",", ".")),
    );
    if (!fieldOf("x").value || !fieldOf("y").value || !(width > 0)) return;
    ring.setAttribute("cx", String(x));
    ring.setAttribute("cy", String(y));
    ring.setAttribute("r", String(width / 2));
    svg.append(ring);
  };

  svg.addEventListener("click", ({ clientX, clientY }) => {
    const toPage = svg.getScreenCTM();
    if (!toPage) return;
    const { x, y } = new DOMPoint(clientX, clientY).matrixTransform(toPage.inverse());
    fieldOf("x").value = x.toFixed(1);
    fieldOf("y").value = y.toFixed(1);
    show();
  });
  form.addEventListener("input", show);
}
