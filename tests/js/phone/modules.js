// Where the phone's own modules are, by the names that the tests call them.
export const ROOT = new URL("../../../static/phone/js/", import.meta.url);

export const MODULES = {
  db: "store/db.js",
  outbox: "store/outbox.js",
  changes: "store/changes.js",
  waiting: "store/waiting.js",
  acknowledge: "store/acknowledge.js",
  records: "store/records.js",
  projection: "store/projection.js",
  lineage: "store/lineage.js",
  local_db: "store/local_db.js",
  photos: "store/photos.js",
  session: "sync/session.js",
  enrol: "sync/enrol.js",
  sync: "sync/sync.js",
  push: "sync/push.js",
  pull: "sync/pull.js",
  photo_upload: "sync/photo_upload.js",
  export_file: "sync/export_file.js",
  signing_key: "store/signing_key.js",
};
