// Checklists that go along with records which use them.
import { findChecklist, findShown } from "../store/local_db.js";

/**
 * Compiled checklists that the events use, those with a `known` hash left out.
 * @param {SealedEvent[]} events
 * @param {string[]} [known]
 */
export async function listDefinitions(events, known = []) {
  return (await Promise.all(listUnknown(events, known).map(findChecklist))).filter(Boolean);
}

/**
 * Drawings and pictures of the same checklists.
 * @param {SealedEvent[]} events
 * @param {string[]} [known]
 * @returns {Promise<{checklist: string, name: string, svg: string}[]>}
 */
export async function listDrawings(events, known = []) {
  const found = listUnknown(events, known).map(async (checklist) =>
    Object.entries(await findShown(checklist)).map(([name, svg]) => ({ checklist, name, svg })),
  );
  return (await Promise.all(found)).flat();
}

/**
 * @param {SealedEvent[]} events
 * @param {string[]} known
 */
function listUnknown(events, known) {
  const hashes = new Set(events.flatMap(({ checklist_hash }) => checklist_hash ?? []));
  known.forEach((hash) => hashes.delete(hash));
  return [...hashes];
}
