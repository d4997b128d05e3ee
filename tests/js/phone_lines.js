// Answers questions about the phone's rules from the Python tests: one JSON line in, one out.
import { createInterface } from "node:readline";

import { judgeLoss } from "../../static/phone/js/store/device.js";
import { isSamePosition, settleRow } from "../../static/phone/js/store/acknowledge.js";
import { classify } from "../../static/phone/js/sync/http.js";
import { fillBatch, nextSize } from "../../static/phone/js/sync/pace.js";

const TASKS = {
  settle: ({ row, result, seq }) => settleRow(row, result, seq),
  same: ({ one, other }) => isSamePosition(one, other),
  loss: ({ canary, device_id, dev_seq }) => judgeLoss(canary, device_id ?? undefined, dev_seq),
  classify({ status, headers, text, is_bodyless }) {
    const named = new Map(
      Object.entries(headers).map(([name, value]) => [name.toLowerCase(), value]),
    );
    const accepts = is_bodyless ? undefined : (data) => data.request_id === "r1";
    return classify(
      status,
      { get: (name) => named.get(name.toLowerCase()) ?? null },
      text,
      accepts,
    );
  },
  fill: ({ sizes, size }) =>
    fillBatch(
      sizes.map((long) => ({ event: "x".repeat(long) })),
      size,
    ).length,
  next: ({ size, sent, heard }) => nextSize(size, sent, heard),
};

for await (const line of createInterface({ input: process.stdin })) {
  const question = JSON.parse(line);
  process.stdout.write(`${JSON.stringify(TASKS[question.task](question))}\n`);
}
