// Trading a join code for a token.
import { rememberServer } from "../store/lineage.js";
import { getDevice, getRestartSecret } from "../store/device.js";
import { setMeta } from "../store/local_db.js";
import { getSigningKey } from "../store/signing_key.js";
import { session } from "./session.js";
import { call } from "./http.js";

/**
 * Trades a join code for a token; gives {name}. Throws an Error with `text_key` when the server
 * says no or is not there. The records made so far go along under this phone's own id.
 * @param {string} code
 */
export async function enrol(code) {
  const { device_id, dev_seq } = await getDevice();
  const key = (await getSigningKey())?.public_key;
  const answer = await call("/api/devices/enrol", {
    method: "POST",
    json: { code, device_id, created: dev_seq, key, secret: getRestartSecret() },
    accepts: (data) =>
      data.device_id === device_id && Boolean(data.token) && Boolean(data.server_id),
  });
  if (answer.kind !== "ok") {
    const { what, todo } = answer.error ?? {};
    throw Object.assign(new Error(`${what}: ${todo}`), {
      text_key: what ? null : "sync.not-connected",
    });
  }
  const { token, name, server_id } = answer.data;
  await rememberServer(server_id);
  await setMeta("device_name", name);
  await setMeta("token", token);
  // An exchange may be under way and still need the old one.
  session.greetedAt = -Infinity;
  return { name };
}
