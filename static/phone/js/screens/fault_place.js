// Where on the part a fault is: a tap on the drawing places it.
import { patchAnswer } from "../inspection/answers.js";
import { h } from "../ui/dom.js";
import { placeOnDrawing } from "../ui/drawing.js";
import { localize, t } from "../ui/words.js";

/**
 * The part near, with the place of the fault where one was tapped. Without a drawing nothing.
 * @param {App} app
 * @param {Check} check
 */
export function placePicker(app, check) {
  const { compiled, draft } = app;
  const source = app.drawingOf(compiled.drawing);
  if (!source) return null;
  const part = localize(compiled.parts.find(({ id }) => id === check.part)?.title);
  const drawing = placeOnDrawing({
    source,
    part: check.part,
    place: draft.answers[check.id]?.place,
    onPlace: (place) => app.changeDraft(patchAnswer(app.draft, check.id, { place })),
  });
  return h(
    "div",
    { class: "place", id: "ui-place" },
    h("small", null, t("fault.where", { part })),
    drawing,
  );
}
