// Checklists that go along with records which use them.
import { findChecklist } from "../store/local_db.js";

/**
 * Compiled checklists that the events use, those with a `known` hash left out.
 * @param {SealedEvent[]} events
 * @param {string[]} [known]
 */
export async function listDefinitions(events, known = []) {
  const hashes = new Set(
    events.map((event) => event.checklist_hash).filter((hash) => hash && !known.includes(hash)),
  );
  return (await Promise.all([...hashes].map(findChecklist))).filter(Boolean);
}
