// A draft of a checklist that the lead wants walked before it is published. It lives in this page
// alone: nothing of it is stored, so no record can be made by it.
import { getMeta } from "../store/local_db.js";
import { call } from "./http.js";

/**
 * Fetches what the link opens. Throws an Error with the `text_key` of what to say.
 * @param {string} token of the link
 * @returns {Promise<PractisedDraft>}
 */
export async function fetchPractisedDraft(token) {
  const answer = await call(`/api/practice/${encodeURIComponent(token)}`, {
    token: await getMeta("token"),
    accepts: (data) =>
      typeof data.hash === "string" &&
      Array.isArray(data.compiled?.checks) &&
      typeof data.drawings === "object",
  });
  if (answer.kind === "ok") return answer.data;
  const text_key = { "pair-again": "practice.none", refused: "practice.no_draft" }[
    /** @type {string} */ (answer.kind)
  ];
  throw Object.assign(new Error(answer.kind), { text_key: text_key ?? "practice.no_contact" });
}
