// What a person took of a picture with the frame becomes the answer of the check that asked for it.

/**
 * Keeps both pictures and the proposal with the open inspection and goes back to the check.
 * @param {App} app
 * @param {string} step id of the step whose check asked for a picture
 * @param {HolesTaken} taken
 * @returns {Promise<void>}
 */
export async function acceptHoles(app, step, taken) {
  throw new Error(`no check of ${step} takes ${taken.proposal.holes.length} holes of ${app}`);
}
