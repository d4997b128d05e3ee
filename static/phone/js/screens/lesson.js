// How a step is done right: picture cards and a voice note, one tap from its fault.
import { findPicture } from "../store/lesson_pictures.js";
import { fetchChosen } from "../sync/lessons.js";
import { h } from "../ui/dom.js";
import { alertLine, button, note } from "../ui/page.js";
import { formatNumber, t } from "../ui/words.js";

const KB = 1000;
/**
 * Addresses of what was shown, by name: a tap paints the sheet anew.
 * @type {Map<string, string>}
 */
const shown = new Map();
/** The fault at whose sheet the lesson is open. */
let openAt = "";

/**
 * Where the page finds it; null where it is neither here nor to be had.
 * @param {LessonPart} part
 */
async function addressOf({ sha256, type }) {
  const known = shown.get(sha256);
  if (known) return known;
  const bytes = (await findPicture(sha256)) ?? (await fetchChosen(sha256));
  if (!bytes) return null;
  const address = URL.createObjectURL(new Blob([bytes], { type }));
  shown.set(sha256, address);
  return address;
}

/** @param {LessonPart} part */
async function pictureCard(part) {
  const src = await addressOf(part);
  const image = src ? h("img", { src, alt: "" }) : note(t("lesson.no_signal"));
  return h("figure", null, image, h("figcaption", null, part.caption));
}

/**
 * The voice note is heard only on a tap: it costs more than all pictures.
 * @param {LessonPart} part
 */
function voiceLine(part) {
  const place = h("div", null);
  const play = async () => {
    place.replaceChildren(h("p", null, t("lesson.fetching")));
    const src = await addressOf(part);
    place.replaceChildren(
      src
        ? h("audio", { src, controls: true, autoplay: true })
        : alertLine(t("lesson.no_signal")),
    );
  };
  const kb = formatNumber(Math.ceil(part.size / KB));
  place.append(button("lesson.listen", "plain wide", play, { kb }, { id: "ui-listen" }));
  return place;
}

/** @param {LessonPart[]} parts */
async function fillLesson(parts) {
  const of = (/** @type {LessonPart["kind"]} */ kind) => parts.filter((part) => part.kind === kind);
  return [...(await Promise.all(of("picture").map(pictureCard))), ...of("voice").map(voiceLine)];
}

/**
 * The lesson of a check's step behind one tap; null where it has none.
 * @param {App} app
 * @param {Check} check
 */
export function lessonOffer({ reference, draft }, { id, step }) {
  const parts = reference?.lessons?.[step];
  if (!parts?.length) return null;
  const at = `${draft.started_at}/${id}`;
  const place = h("div", { class: "lesson" });
  const offer = h(
    "details",
    { id: "ui-lesson", open: openAt === at },
    h("summary", null, t("lesson.offer")),
    place,
  );
  const show = async () => place.replaceChildren(...(await fillLesson(parts)));
  if (offer.open) show();
  offer.addEventListener("toggle", () => {
    if (offer.open === (openAt === at)) return null;
    openAt = offer.open ? at : "";
    return offer.open ? show() : null;
  });
  return offer;
}
