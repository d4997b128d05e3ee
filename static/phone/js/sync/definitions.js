// Checklists that go along with records which use them.
import { findChecklist } from "../store/local_db.js";

/**
 * Compiled checklists that the events use, those with a `known` hash left out.
 * @param {SealedEvent[]} events
 * @param {string[]} [known]
 */
export async function listDefinitions(events, known = []) {
  const hashes = new Set(events.flatMap(({ checklist_hash }) => checklist_hash ?? []));
  known.forEach((hash) => hashes.delete(hash));
  return (await Promise.all([...hashes].map(findChecklist))).filter(Boolean);
}
