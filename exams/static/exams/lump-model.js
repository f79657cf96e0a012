/* What a tap on a lump does on this tablet until the server has it. The rules are those of exams/lump_taps.py
   and exams/lump_lines.py; growth, prompts and the number for life come with the server's answer. */

export const LUMP = 'lump:';
const SKIN = 'SKN.lumps|-';
const SIZE_SAID = { 'SKN-27': 'mm x mm x mm', 'GUM-01': 'mm x mm x mm', 'PER-05': 'mm' };

/* The lumps that an operation changes, by id. null: nothing is said of it any more. */
export function lumpEffect(model, op) {
  const id = op.target.slice(LUMP.length), p = op.payload, known = model.data.lumps.known[id];
  const today = model.lumps.get(id) ?? { number: known?.number ?? 0, new: !known };
  const by = { person: model.data.me.staff, waits: true }, plain = { number: today.number, new: today.new, place: today.place, first_seen: today.first_seen, first_words: today.first_words };
  const told = {
    lump_place: () => ({ ...today, ...by, place: placeOf(p), first_seen: p.first_seen || today.first_seen, first_words: p.first_words || today.first_words }),
    lump_measure: () => ({ ...plain, sample: today.sample, ...by, said: 'measured', axes_mm: [...p.axes].sort((a, b) => b - a), reordered: p.axes.some((a, i) => i && a > p.axes[i - 1]), method: p.method || 'caliper', looks: looksOf(p.looks) }),
    lump_sample: () => ({ ...today, ...by, sample: p.method }),
    lump_gone: () => ({ ...plain, ...by, said: 'gone', how: p.how, words: p.words, sample: p.histology ? 'removed' : '' }),
    lump_merge: () => ({ ...plain, ...by, said: 'merged', into: p.into }),
    lump_not_looked: () => ({ ...plain, ...by, said: 'not-looked', reason: p.reason, words: p.words }),
    take_back: () => (op.before ?? []).find(([key]) => key === op.target)?.[1] ?? null,
  }[op.what]?.();
  return new Map(told === undefined ? [] : [[id, told]]);
}
const placeOf = ({ drawing, x, y, region, side, detail = '', depth = '' }) => ({ drawing, x, y, region, side, detail, depth });
export const looksOf = looks => Object.fromEntries(Object.entries(looks ?? {}).map(([name, said]) => [name, Array.isArray(said) ? said.join(', ') : said]).filter(([, said]) => said));

/* Where it lies: as put right today, else as known. */
export const placeNow = (model, id) => model.lumps.get(id)?.place ?? model.data.lumps.known[id]?.place;

function lineOf(model, place) {
  const gland = place.region.match(/^gland-\w+-(\d)-/);
  const [key, code] = gland ? [`GUM.mammary|${place.side}-${gland[1]}`, 'GUM-01'] : place.detail === 'anal sac' ? [`PER.anal-sacs|${place.side}`, 'PER-05'] : [SKIN, 'SKN-27'];
  return model.lines.has(key) && !model.lines.get(key).absent ? [key, code] : [SKIN, 'SKN-27'];
}

/* The lines that read otherwise because of lumps that this tablet changed and the server has not seen. */
export function settleLumps(model) {
  const wanted = new Map(), changed = new Map();
  let waits = false;
  for (const [id, lump] of model.lumps) {
    waits ||= lump.waits;
    if (lump.said !== 'measured') continue;
    const [key, code] = lineOf(model, placeNow(model, id));
    wanted.set(key, [...(wanted.get(key) ?? []), { ...lump, code }]);
  }
  const told = [...model.answers].filter(([, a]) => (a.findings ?? []).some(f => f.from_lumps)).map(([key]) => key);
  for (const key of new Set([...told, ...wanted.keys()])) {
    const before = model.answers.get(key), lumps = wanted.get(key);
    const own = (before?.findings ?? []).find(f => f.from_lumps);
    if (!lumps) {
      const kept = (before?.findings ?? []).filter(f => !f.from_lumps);
      changed.set(key, kept.length ? { ...before, findings: kept } : null);
    } else if (waits || !own || before.status !== 'abnormal') {
      const [first] = lumps, size = first.axes_mm.join(' x ');
      const entry = { code: first.code, qualifiers: { [SIZE_SAID[first.code]]: first.code === 'PER-05' ? String(first.axes_mm[0]) : size }, note: lumps.map(x => (x.number ? `lump ${x.number}` : 'new lump')).join(', '), from_lumps: true };
      changed.set(key, { ...(before?.status === 'abnormal' ? before : { person: first.person }), status: 'abnormal', findings: [entry, ...(before?.findings ?? []).filter(f => f.code !== entry.code)] });
    }
  }
  return changed;
}
