// What engines do not have in common, asked of the one that shows the phone app.
async () => {
  const NONE = "not here";
  const within = (promise) =>
    Promise.race([
      promise.then(String, (error) => error.name),
      new Promise((resolve) => setTimeout(() => resolve("no answer"), 1000)),
    ]);
  const asked = (name) => navigator.storage?.[name]?.();
  const database = await new Promise((resolve, reject) => {
    const request = indexedDB.open("qcapp");
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  const durability = database.transaction(["meta"], "readwrite", { durability: "strict" }).durability;
  database.close();
  const file = new File(["a"], "a.txt", { type: "text/plain" });
  return {
    browser: navigator.userAgent,
    is_secure: isSecureContext,
    worker: Boolean(navigator.serviceWorker?.controller),
    durability: durability ?? NONE,
    persisted: await within(asked("persisted") ?? Promise.resolve(NONE)),
    persist: await within(asked("persist") ?? Promise.resolve(NONE)),
    quota: await within(asked("estimate")?.then(({ quota }) => quota) ?? Promise.resolve(NONE)),
    locks: "locks" in navigator,
    camera: Boolean(navigator.mediaDevices?.getUserMedia),
    barcode_detector: "BarcodeDetector" in globalThis,
    capture: "capture" in HTMLInputElement.prototype,
    share_files: navigator.canShare?.({ files: [file] }) ?? false,
    vibrate: "vibrate" in navigator,
    touch: "ontouchstart" in globalThis,
  };
};
