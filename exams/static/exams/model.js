/* How the exam stands on this tablet: what the server said last, then every tap that still waits, in order.
   The rules of taps, twins and sides are those of exams/taps.py and exams/state.py; tests/exams/test_page_model.py
   holds the two to each other. */

import { LUMP, lumpEffect, settleLumps } from './lump-model.js';

const OWN = ['pin_heads_up', 'answer_heads_up', 'set_kind', 'confirm']; /* said by whoever taps, for nobody else */
const LIMB_ABSENT = ['FLB-27', 'HLB-28'];
const LIMB_AT = { LF: 'FLB.*|left', RF: 'FLB.*|right', LH: 'HLB.*|left', RH: 'HLB.*|right' };
const NODES_OF_LIMB = { 'LYM.popliteal|left': 'LH', 'LYM.popliteal|right': 'RH' };
const SEEN = ['set_normal', 'set_abnormal', 'set_in_part', 'set_not_examined', 'station_all_normal'];
const STAYS = { full: 'full', focused: 'focused', emergency: 'emergency' };

/* What `packed` of exams/wire.py left out of the lines: as the line before it of the same structure, or nothing. */
export function unpacked(walk) {
  for (const station of walk.stations) {
    let before = {};
    station.lines = station.lines.map(own => {
      const line = { side_words: '', value: '', within: '', covered_by: '', absent: '', why: '', normal_means: '', how_to_check: '', codes: [], limits: [], ...(own.structure ? {} : before), ...own };
      line.key = own.key ?? `${line.structure}|${line.side}`;
      line.stored_at = own.stored_at ?? [line.key];
      return (before = line);
    });
  }
  return walk;
}

export class Model {
  constructor(data) {
    this.data = data;
    this.walk = data.walk;
    this.stations = new Map(data.walk.stations.map(s => [s.code, s]));
    this.lines = new Map(data.walk.stations.flatMap(s => s.lines.map(line => [line.key, line])));
    this.reasons = new Map(data.walk.reasons.map(r => [r.key, r]));
    this.station = new Map(data.walk.stations.flatMap(s => s.lines.map(line => [line.key, s.code])));
    this.covers = new Map();
    for (const line of this.lines.values()) {
      if (line.covered_by && !line.absent) this.covers.set(line.covered_by, [...new Set([...(this.covers.get(line.covered_by) ?? []), ...line.stored_at])]);
    }
    this.limbs = new Map([...this.lines.values()].map(line => [line.key, limbOf(this.station.get(line.key), line)]));
    this.reckoned = { shown: new Map(), digest: new Map(), stands: new Map() }; /* until something changes */
    this.touches = this.whatTouches();
    this.places = new Map();
    this.pending = [];
    this.observer = ''; /* who sees it, when somebody else enters it: entering.js */
    this.past = []; /* what can be taken back on this tablet, newest last */
    this.server = data.state;
    this.rebuild();
  }

  /* A part says what is other than before; the server sends one only to a page that knows what was before. */
  take(state) { this.server = state.part ? joinedTo(this.server, state) : state; this.rebuild(); }

  rebuild() {
    const told = this.server, before = [this.answers ?? new Map(), this.notes ?? new Map()];
    this.answers = new Map(Object.entries(told.answers));
    this.versions = new Map(Object.entries(told.versions));
    this.notes = new Map(Object.entries(told.notes));
    this.headsUps = new Map(told.heads_ups.map(h => [h.id, { ...h }]));
    this.lumps = new Map(Object.entries(told.lumps ?? {}));
    Object.assign(this, { kind: told.kind, chosen: told.stations, kindReason: told.kind_reason, awake: told.awake, awakeLog: told.awake_log ?? [] });
    this.changed([...differing(before[0], this.answers), ...differing(before[1], this.notes)]);
    const people = JSON.stringify(told.people);
    if (people !== this.people) this.reckoned.stands.clear();
    this.people = people;
    for (const op of this.pending) this.put(op);
  }
  /* What was reckoned from these keys is reckoned anew; the rest stands. */
  changed(keys) {
    const { shown, digest, stands } = this.reckoned;
    for (const key of keys) for (const line of this.touches.get(key) ?? []) { shown.delete(line); stands.delete(line); digest.delete(this.station.get(line)); }
  }
  /* By kept key: the lines whose reading it is part of, by the ways of `reads` and `whyAbsent`. */
  whatTouches() {
    const touches = new Map();
    const add = (keys, line) => { for (const key of keys) { if (!touches.has(key)) touches.set(key, new Set()); touches.get(key).add(line); } };
    const own = line => [...line.stored_at, ...(this.covers.get(line.key) ?? []), ...line.stored_at.map(key => key.replace(/\|(left|right)$/, (_, side) => `|${side === 'left' ? 'right' : 'left'}`))];
    for (const line of this.lines.values()) {
      add(own(line), line.key);
      const limb = LIMB_AT[this.limbs.get(line.key)];
      if (limb) add([limb], line.key);
      for (let home = this.lines.get(line.covered_by), n = 0; home && n < 9; home = this.lines.get(home.covered_by), n += 1) add(own(home), line.key);
    }
    return touches;
  }

  /* ---- Targets and versions ---- */

  linesOf(target) {
    if (this.lines.has(target)) return [this.lines.get(target)];
    const [structure, side] = target.split('|');
    const pair = side === 'both' ? ['left', 'right'].map(s => this.lines.get(`${structure}|${s}`)) : [];
    return pair.length && pair.every(Boolean) ? pair : [];
  }
  keysOf(target) {
    const found = this.linesOf(target);
    return found.length ? [...new Set(found.flatMap(line => line.stored_at))] : [target];
  }
  versionOf(target) {
    const versions = this.keysOf(target).map(k => this.versions.get(k) ?? '');
    return new Set(versions).size === 1 ? versions[0] : versions.map(v => v || '-').join('+');
  }

  /* What is seen is seen in some state: awake, sedated, anaesthetised. A tap that waits keeps its own. */
  make(target, what, said = {}) {
    const payload = this.awake && SEEN.includes(what) ? { made_in: this.awake, ...said } : said;
    const op = { key: uuid(), target, what, payload, made_at: deviceTime(), walk_version: this.walk.version, follows: this.versionOf(target), grant: this.data.me.grant, observed_by: OWN.includes(what) ? '' : this.observer };
    return op;
  }

  /* ---- What a tap does, as far as this tablet can know it ---- */

  put(op) {
    if (op.target.startsWith(LUMP)) return this.putLump(op);
    const { answers, headsUps, exam, note } = this.effect(op);
    const back = [...answers.keys()].map(k => [k, this.answers.get(k) ?? null]);
    for (const [key, answer] of answers) { if (answer) this.answers.set(key, answer); else this.answers.delete(key); }
    const keys = new Set([...this.keysOf(op.target), ...answers.keys()]);
    for (const key of keys) this.versions.set(key, op.key);
    for (const [id, told] of headsUps) this.headsUps.set(id, { ...this.headsUps.get(id), ...told });
    Object.assign(this, exam);
    if (note !== undefined) for (const key of this.keysOf(op.target)) { if (note) this.notes.set(key, note); else this.notes.delete(key); }
    this.changed(keys);
    if (this.lumps.size) this.settle();
    return back;
  }
  putLump(op) {
    const back = [];
    for (const [id, told] of lumpEffect(this, op)) {
      back.push([op.target, this.lumps.get(id) ?? null]);
      if (told) this.lumps.set(id, told); else this.lumps.delete(id);
    }
    this.versions.set(op.target, op.key);
    this.settle();
    return back;
  }
  settle() {
    const settled = [...settleLumps(this)];
    for (const [key, answer] of settled) { if (answer) this.answers.set(key, answer); else this.answers.delete(key); }
    this.changed(settled.map(([key]) => key));
  }

  effect(op) {
    const answers = new Map(), headsUps = new Map(), p = op.payload;
    let exam = {}, note;
    const lines = this.linesOf(op.target);
    const write = (line, answer) => line.stored_at.forEach(k => answers.set(k, answer && { person: this.data.me.staff, ...(op.observed_by ? { observed_by: op.observed_by } : {}), ...(p.heard ? { spoken: true } : {}), ...answer }));
    const sided = line => (op.target.endsWith('|both') && p[line.side]) || p; /* the sides of a pair may differ */
    const said = (line, { in_part: part, charted, findings = [] } = sided(line)) => ({
      findings: findings.map(f => (this.walk.findings[f.code]?.side === 'none' && ['left', 'right'].includes(line.side) ? { ...f, both_sides: true } : f)),
      ...(part ? { in_part: true, reason: part.reason, reason_words: part.words } : {}), ...(charted ? { charted } : {}), ...this.sizeOf(line, p) });
    const variant = f => this.walk.findings[f.code]?.variant;
    if (op.what === 'set_normal') lines.forEach(line => write(line, { status: 'normal', ...said(line) }));
    else if (op.what === 'set_abnormal') lines.forEach(line => {
      const own = said(line), { value, unit, flag } = this.answers.get(line.stored_at[0]) ?? {};
      if (line.depth === 'measured') write(line, { status: 'measured', findings: own.findings, value, unit, flag });
      else write(line, { status: own.findings.length && own.findings.every(variant) && !line.structure.endsWith('.*') ? 'normal' : 'abnormal', ...own });
    });
    else if (op.what === 'set_not_examined') lines.forEach(line => write(line, { status: 'not-examined', findings: said(line).findings, reason: sided(line).reason, reason_words: sided(line).words }));
    else if (op.what === 'measure') lines.forEach(line => write(line, { status: 'measured', value: p.value, unit: p.unit, waits: true, made_at: op.made_at }));
    else if (op.what === 'clear') lines.forEach(line => write(line, null));
    else if (op.what === 'station_all_normal') {
      for (const line of this.at(op.target)) if (p.lines.includes(line.key) && this.isOpen(line) && line.depth === 'routine' && !line.stored_at.some(k => this.answers.has(k) || answers.has(k))) write(line, { status: 'normal', together: true });
    } else if (op.what === 'station_rest_not_examined') {
      const all = op.target === 'exam' ? [...this.lines.values()] : this.at(op.target);
      for (const line of all) if (!line.structure.endsWith('.*') && this.isOpen(line) && (!p.lines || p.lines.includes(line.key)) && (p.all || line.asked !== 'every')) {
        for (const k of line.stored_at) if (!this.answers.has(k)) answers.set(k, { status: 'not-examined', reason: p.reason, reason_words: p.words, together: true, person: this.data.me.staff });
      }
    } else if (op.what === 'take_back') for (const [k, was] of op.before ?? []) { if (this.versions.get(k) === p.operation) answers.set(k, was); } /* what was changed since stays */
    else if (op.what === 'note') note = p.text;
    else if (op.what === 'answer_heads_up') headsUps.set(op.target, { answer: p.answer === 'nothing' ? 'looked' : p.answer, reason: p.words ?? '' });
    else if (op.what === 'set_awake') exam = { awake: p.awake, awakeLog: [...this.awakeLog, { state: p.awake, by_what: p.by_what ?? '', at: op.made_at }] };
    else if (op.what === 'pin_heads_up') headsUps.set(op.target, { id: op.target, station: p.station, side: p.side ?? '', words: p.words, by: this.data.me.name, at: op.made_at, answer: '', reason: '', waits: true });
    else if (op.what === 'set_kind') exam = { kind: STAYS[p.kind], chosen: p.stations, kindReason: p.reason };
    return { answers, headsUps, exam, note };
  }

  /* A lymph node's long axis: what is sent, nothing when emptied, else what stood (exams/nodes.py). */
  sizeOf(line, p) {
    if (this.walk.sheets[line.structure] !== 'lymph-node') return {};
    const before = this.answers.get(line.stored_at[0]);
    if (p.size_mm === undefined) return before?.unit === 'mm' ? { value: before.value, unit: 'mm' } : {};
    return p.size_mm ? { value: String(Number(p.size_mm.replace(',', '.'))), unit: 'mm' } : {};
  }

  /* ---- How a line reads ---- */

  at(target) {
    if (this.places.has(target)) return this.places.get(target);
    const [place, side] = target.split('|');
    const found = [...this.lines.values()].filter(line => (this.station.get(line.key) === place || line.structure === place) && (!side || line.side === side));
    this.places.set(target, found);
    return found;
  }
  shown(key) {
    const kept = this.reckoned.shown;
    if (!kept.has(key)) kept.set(key, this.reads(key));
    return kept.get(key);
  }
  reads(key) {
    const line = this.lines.get(key), own = this.stored(line);
    const limbs = (this.covers.get(key) ?? []).map(k => this.answers.get(k)).filter(a => a?.status === 'abnormal');
    if (limbs.length && own?.status !== 'abnormal') return joined(limbs);
    if (own) return own;
    if (line.covered_by && this.lines.has(line.covered_by)) {
      const home = this.shown(line.covered_by);
      if (home && !home.derived && ['normal', 'not-examined'].includes(home.status)) return { ...home, findings: [], derived: true };
    }
    return this.otherSide(line);
  }
  stored(line) {
    if (line.stored_at.length === 1) return this.answers.get(line.stored_at[0]) ?? null;
    const sides = line.stored_at.map(k => this.answers.get(k)), told = sides.filter(Boolean), bad = told.filter(a => a.status === 'abnormal');
    if (bad.length) return joined(bad);
    if (told.length < sides.length) return null;
    return { ...(told.find(a => a.status !== 'normal') ?? told[0]), derived: true };
  }
  otherSide(line) {
    if (!['left', 'right'].includes(line.side) || line.stored_at.length !== 1) return null;
    const [structure, side] = line.stored_at[0].split('|');
    const other = this.answers.get(`${structure}|${side === 'left' ? 'right' : 'left'}`);
    const found = other?.status === 'abnormal' ? (other.findings ?? []).filter(f => f.both_sides) : [];
    return found.length ? { ...other, findings: found, derived: true } : null;
  }
  whyAbsent(line) {
    if (line.absent) return line.why;
    const limb = this.answers.get(LIMB_AT[this.limbs.get(line.key)]);
    return (limb?.findings ?? []).some(f => LIMB_ABSENT.includes(f.code)) ? 'limb absent' : '';
  }
  /* A value that reminds before the signature and does not hold it up: not weight and body condition (exams/digest.py). */
  reminds(line) { return line.depth === 'measured' && !['VIT.weight|-', 'BCM.score|-'].includes(line.key); }
  isOpen(line) { return !this.whyAbsent(line) && !this.shown(line.key); }
  isAbnormal(answer) {
    if (!answer) return false;
    const told = (answer.findings ?? []).some(f => !this.walk.findings[f.code]?.variant);
    return answer.status === 'abnormal' || (answer.status === 'measured' && (told || ['high', 'low'].includes(answer.flag)));
  }

  /* ---- What is left ---- */

  openFlags(code) { return [...this.headsUps.values()].filter(h => !h.answer && (!code || h.station === code)); }
  digest(code) {
    const kept = this.reckoned.digest;
    if (!kept.has(code)) kept.set(code, this.count(code));
    return kept.get(code);
  }
  count(code) {
    const own = this.stations.get(code).lines.filter(line => !line.structure.endsWith('.*'));
    const count = { open: 0, left: new Set(), bare: new Set(), called: [], rest: 0, normal: 0, abnormal: 0, unseen: 0, measured: 0, na: 0, together: false, spoken: false };
    for (const line of own) {
      if (this.whyAbsent(line)) { count.na += 1; continue; }
      const answer = this.shown(line.key);
      if (!answer) { count.open += 1; if (line.asked === 'every') { count.left.add(line.structure); if (this.reminds(line)) count.bare.add(line.structure); } else { count.rest += 1; count.called.push(line.structure); } continue; }
      count.together ||= Boolean(answer.together);
      count.spoken ||= Boolean(answer.spoken);
      if (this.isAbnormal(answer)) count.abnormal += 1;
      else if (answer.status === 'not-examined') count.unseen += 1;
      else count[answer.status === 'measured' ? 'measured' : 'normal'] += 1;
    }
    const limits = this.stations.get(code).lines.filter(line => line.structure.endsWith('.*') && this.shown(line.key));
    count.abnormal += limits.filter(line => this.isAbnormal(this.shown(line.key))).length;
    const n = count.left.size, begun = own.length - count.na > count.open || count.abnormal;
    const state = !begun ? 'new' : n ? 'begun' : count.abnormal ? 'abnormal' : count.normal || count.measured ? 'normal' : 'unseen';
    const words = { new: `${n} to do`, begun: `${n} left`, abnormal: `${count.abnormal} abnormal`, normal: count.unseen ? `${count.unseen} not ex.` : count.rest ? `${count.rest} open` : 'all normal', unseen: `${count.unseen} not ex.` }[state];
    return { ...count, left: n, total: new Set(own.filter(line => line.asked === 'every' && !this.whyAbsent(line)).map(line => line.structure)).size, state, words };
  }
}

/* The limb whose loss takes this line with it, or none. */
function limbOf(station, line) {
  if (line.structure.endsWith('.*')) return '';
  return LIMB_AT[line.side] ? line.side : NODES_OF_LIMB[line.key] ?? Object.keys(LIMB_AT).find(limb => LIMB_AT[limb] === `${station}.*|${line.side}`) ?? '';
}
function differing(before, after) {
  return [...new Set([...before.keys(), ...after.keys()])].filter(key => before.get(key) !== after.get(key));
}
function joinedTo(before, { part, gone, ...state }) {
  const answers = { ...before.answers, ...state.answers };
  for (const key of gone) delete answers[key];
  return { ...state, answers, versions: { ...before.versions, ...state.versions } };
}
function joined(answers) {
  const seen = new Map(answers.flatMap(a => a.findings ?? []).map(f => [JSON.stringify(f), f]));
  return { ...answers[0], findings: [...seen.values()], derived: true };
}

/* Insecure origins have no randomUUID. */
export function uuid() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map(b => b.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}
export function deviceTime() {
  const now = new Date(), off = -now.getTimezoneOffset(), two = n => String(Math.floor(Math.abs(n))).padStart(2, '0');
  const local = new Date(now.getTime() + off * 60_000).toISOString().slice(0, 19);
  return `${local}${off < 0 ? '-' : '+'}${two(off / 60)}:${two(off % 60)}`;
}
