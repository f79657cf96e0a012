/* Runs the exam page's own model outside a browser: one JSON line in, one out. */

import { createInterface } from 'node:readline';

const { Model, unpacked } = await import(process.argv[2]);
let data, model, past;

const reads = line => {
  const why = model.whyAbsent(line), answer = why ? null : model.shown(line.key);
  const state = why ? 'not-applicable' : !answer ? 'not-yet' : model.isAbnormal(answer) ? 'abnormal' : answer.status;
  return [state, (answer?.findings ?? []).map(f => f.code).sort(), Boolean(answer?.in_part), answer?.reason ?? ''];
};
const stands = targets => ({
  lines: Object.fromEntries([...model.lines.values()].map(line => [line.key, reads(line)])),
  versions: Object.fromEntries(targets.map(target => [target, model.versionOf(target)])),
  stations: Object.fromEntries([...model.stations.keys()].map(code => { const told = model.digest(code); return [code, [told.state, told.left]]; })),
  notes: Object.fromEntries(model.notes),
});
const does = {
  walk: told => { data = told.data; },
  begin: () => { past = new Map(); model = new Model(structuredClone(data)); },
  tap: ({ op }) => {
    if (op.what === 'take_back') op.before = past.get(op.payload.operation) ?? [];
    past.set(op.key, model.put(op));
  },
  take: ({ state }) => model.take(state),
  unpacked: told => unpacked(told.walk),
  stands: ({ targets }) => stands(targets),
};

for await (const line of createInterface({ input: process.stdin })) {
  const told = JSON.parse(line);
  console.log(JSON.stringify(does[told.do](told) ?? null));
}
