// Photos on a screen: one that was taken, and taking one.
import { patchAnswer } from "../inspection/answers.js";
import { findPhoto, savePhoto } from "../store/photos.js";
import { h } from "../ui/dom.js";
import { note } from "../ui/page.js";
import { reasonWords, t } from "../ui/words.js";

/**
 * A photo as far as this phone has it, and where it is.
 * @param {string} name
 */
export async function photoFigure(name) {
  const photo = await findPhoto(name);
  const source = photo?.bytes ?? photo?.thumb;
  const reason = photo?.reason && reasonWords(photo.reason);
  const picture = source && URL.createObjectURL(new Blob([source], { type: photo?.type }));
  return h(
    "figure",
    null,
    picture && h("img", { class: "photo", alt: t("fault.photo_taken"), src: picture }),
    h("figcaption", null, t(`photo.${photo?.state ?? "elsewhere"}`, { reason })),
  );
}

/**
 * @param {App} app
 * @param {Check} check
 * @param {File | undefined} file
 * @param {boolean} is_fault
 */
async function addPhoto(app, check, file, is_fault) {
  if (!file) return;
  const done = await app.attempt(async () => {
    const sha256 = await savePhoto(file, { is_fault });
    const photos = [...new Set([...(app.draft.answers[check.id]?.photos ?? []), sha256])];
    app.storeDraft({
      ...patchAnswer(app.draft, check.id, { photos }),
      photo_awaited: undefined,
    });
  });
  if (done) app.refresh();
}

/**
 * The camera may make the phone end this page; the mark in the draft lets the next start say that
 * the photo did not come.
 * @param {App} app
 * @param {Check} check
 * @param {boolean} is_fault
 */
function cameraInput(app, check, is_fault) {
  const attrs = { accept: "image/*", capture: "environment", id: "ui-photo", class: "beside" };
  const input = h("input", { type: "file", ...attrs });
  input.addEventListener("click", () => app.storeDraft({ ...app.draft, photo_awaited: check.id }));
  input.addEventListener("change", () => addPhoto(app, check, input.files?.[0], is_fault));
  return input;
}

/**
 * @param {App} app
 * @param {Check} check
 * @param {Answer} answer
 * @param {boolean} is_fault
 */
export function photoPicker(app, check, { photos }, is_fault) {
  if (app.draft.is_practice) return null;
  const pictures = h("div", null);
  Promise.all((photos ?? []).map(photoFigure)).then((figures) =>
    pictures.replaceChildren(...figures),
  );
  const isLost = app.draft.photo_awaited === check.id && !photos;
  return h(
    "div",
    { class: "photos" },
    pictures,
    isLost && note(t("fault.photo_lost")),
    h(
      "label",
      { class: "plain", for: "ui-photo" },
      cameraInput(app, check, is_fault),
      t(photos ? "fault.photo_more" : "fault.photo"),
    ),
  );
}
