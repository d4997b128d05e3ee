// Addresses of screens.

/** @param {string | null} part */
export const walkRoute = (part) => `#/walk/${encodeURIComponent(part ?? "")}`;

/**
 * Where a draft goes on: its part, or the review.
 * @param {Draft} draft
 */
export const draftRoute = ({ at }) => (at.screen === "review" ? "#/review" : walkRoute(at.part));
