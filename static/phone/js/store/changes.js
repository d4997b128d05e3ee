// Who must hear that something kept here has changed.

/** "recorded" when this page has saved one, "synced" when the server changed what is kept. */
export const changes = new EventTarget();

/**
 * Calls `listen` after a record was saved or the server changed something, here or in another tab.
 * @param {() => void} listen
 */
export function onChange(listen) {
  changes.addEventListener("recorded", listen);
  changes.addEventListener("synced", listen);
}

/** Other tabs only paint again; each looks into the shared database itself. */
export function joinTabs() {
  if (typeof BroadcastChannel === "undefined") return;
  const channel = new BroadcastChannel("qcapp");
  let isTold = false;
  channel.onmessage = () => {
    isTold = true;
    changes.dispatchEvent(new Event("synced"));
    isTold = false;
  };
  onChange(() => isTold || channel.postMessage("changed"));
}
