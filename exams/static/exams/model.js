/* How the exam stands on this tablet: what the server said last, then every tap that still waits, in order.
   The rules of twins and sides are those of exams/state.py; tests/browser holds the two to each other. */

const LIMB_ABSENT = ['FLB-27', 'HLB-28'];
const STAYS = { full: 'full', focused: 'focused', emergency: 'emergency' };

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
    this.pending = [];
    this.past = []; /* what can be taken back on this tablet, newest last */
    this.server = data.state;
    this.rebuild();
  }

  take(state) { this.server = state; this.rebuild(); }

  rebuild() {
    const told = this.server;
    this.answers = new Map(Object.entries(told.answers));
    this.versions = new Map(Object.entries(told.versions));
    this.notes = new Map(Object.entries(told.notes));
    this.headsUps = new Map(told.heads_ups.map(h => [h.id, { ...h }]));
    Object.assign(this, { kind: told.kind, chosen: told.stations, kindReason: told.kind_reason });
    for (const op of this.pending) this.put(op);
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

  make(target, what, payload = {}) {
    const op = { key: uuid(), target, what, payload, made_at: deviceTime(), walk_version: this.walk.version, follows: this.versionOf(target), grant: this.data.me.grant };
    return op;
  }

  /* ---- What a tap does, as far as this tablet can know it ---- */

  put(op) {
    const { answers, headsUps, exam, note } = this.effect(op);
    const back = [...answers.keys()].map(k => [k, this.answers.get(k) ?? null]);
    for (const [key, answer] of answers) { if (answer) this.answers.set(key, answer); else this.answers.delete(key); }
    for (const key of new Set([...this.keysOf(op.target), ...answers.keys()])) this.versions.set(key, op.key);
    for (const [id, answer] of headsUps) Object.assign(this.headsUps.get(id) ?? {}, answer);
    Object.assign(this, exam);
    if (note !== undefined) { if (note) this.notes.set(op.target, note); else this.notes.delete(op.target); }
    return back;
  }

  effect(op) {
    const answers = new Map(), headsUps = new Map(), p = op.payload;
    let exam = {}, note;
    const lines = this.linesOf(op.target);
    const write = (line, answer) => line.stored_at.forEach(k => answers.set(k, answer && { person: this.data.me.staff, ...answer }));
    const part = p.in_part ? { in_part: true, reason: p.in_part.reason, reason_words: p.in_part.words } : {};
    const findings = p.findings ?? [];
    const variant = f => this.walk.findings[f.code]?.variant;
    if (op.what === 'set_normal') lines.forEach(line => write(line, { status: 'normal', findings, ...part }));
    else if (op.what === 'set_abnormal') lines.forEach(line => write(line, { status: findings.length && findings.every(variant) && !line.structure.endsWith('.*') ? 'normal' : 'abnormal', findings, ...part }));
    else if (op.what === 'set_not_examined') lines.forEach(line => write(line, { status: 'not-examined', findings, reason: p.reason, reason_words: p.words }));
    else if (op.what === 'measure') lines.forEach(line => write(line, { status: 'measured', value: p.value, unit: p.unit, waits: true, made_at: op.made_at }));
    else if (op.what === 'clear') lines.forEach(line => write(line, null));
    else if (op.what === 'station_all_normal') {
      for (const line of this.at(op.target)) if (p.lines.includes(line.key) && this.isOpen(line) && line.depth === 'routine' && !line.stored_at.some(k => this.answers.has(k) || answers.has(k))) write(line, { status: 'normal', together: true });
    } else if (op.what === 'station_rest_not_examined') {
      const all = op.target === 'exam' ? [...this.lines.values()] : this.at(op.target);
      for (const line of all) if (!line.structure.endsWith('.*') && this.isOpen(line) && (!p.lines || p.lines.includes(line.key)) && (p.all || line.asked !== 'every')) {
        for (const k of line.stored_at) if (!this.answers.has(k)) answers.set(k, { status: 'not-examined', reason: p.reason, reason_words: p.words, together: true, person: this.data.me.staff });
      }
    } else if (op.what === 'take_back') for (const [k, was] of op.before ?? []) answers.set(k, was);
    else if (op.what === 'note') note = p.text;
    else if (op.what === 'answer_heads_up') headsUps.set(op.target, { answer: p.answer === 'nothing' ? 'looked' : p.answer, reason: p.words ?? '' });
    else if (op.what === 'set_kind') exam = { kind: STAYS[p.kind], chosen: p.stations, kindReason: p.reason };
    return { answers, headsUps, exam, note };
  }

  /* ---- How a line reads ---- */

  at(target) {
    const [place, side] = target.split('|');
    return [...this.lines.values()].filter(line => (this.station.get(line.key) === place || line.structure === place) && (!side || line.side === side));
  }
  shown(key) {
    const line = this.lines.get(key), own = this.stored(line);
    const limbs = (this.covers.get(key) ?? []).map(k => this.answers.get(k)).filter(a => a?.status === 'abnormal');
    if (limbs.length && own?.status !== 'abnormal') return joined(limbs);
    if (own) return own;
    if (line.covered_by && this.lines.has(line.covered_by)) {
      const home = this.stored(this.lines.get(line.covered_by));
      if (home && ['normal', 'not-examined'].includes(home.status)) return { ...home, findings: [], derived: true };
    }
    return this.otherSide(line);
  }
  stored(line) {
    if (line.stored_at.length === 1) return this.answers.get(line.stored_at[0]) ?? null;
    const sides = line.stored_at.map(k => this.answers.get(k)), told = sides.filter(Boolean), bad = told.filter(a => a.status === 'abnormal');
    if (bad.length) return joined(bad);
    if (told.length < sides.length) return null;
    return told.find(a => a.status !== 'normal') ?? told[0];
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
    const limb = this.answers.get(`${this.station.get(line.key)}.*|${line.side}`);
    return !line.structure.endsWith('.*') && (limb?.findings ?? []).some(f => LIMB_ABSENT.includes(f.code)) ? 'limb absent' : '';
  }
  isOpen(line) { return !this.whyAbsent(line) && !this.shown(line.key); }
  isAbnormal(answer) {
    if (!answer) return false;
    const told = (answer.findings ?? []).some(f => !this.walk.findings[f.code]?.variant);
    return answer.status === 'abnormal' || (answer.status === 'measured' && (told || ['high', 'low'].includes(answer.flag)));
  }

  /* ---- What is left ---- */

  openFlags(code) { return [...this.headsUps.values()].filter(h => !h.answer && (!code || h.station === code)); }
  digest(code) {
    const own = this.stations.get(code).lines.filter(line => !line.structure.endsWith('.*'));
    const count = { open: 0, left: new Set(), rest: 0, normal: 0, abnormal: 0, unseen: 0, measured: 0, na: 0, together: false };
    for (const line of own) {
      if (this.whyAbsent(line)) { count.na += 1; continue; }
      const answer = this.shown(line.key);
      if (!answer) { count.open += 1; if (line.asked === 'every') count.left.add(line.structure); else count.rest += 1; continue; }
      count.together ||= Boolean(answer.together);
      if (this.isAbnormal(answer)) count.abnormal += 1;
      else if (answer.status === 'not-examined') count.unseen += 1;
      else count[answer.status === 'measured' ? 'measured' : 'normal'] += 1;
    }
    const limits = this.stations.get(code).lines.filter(line => line.structure.endsWith('.*') && this.shown(line.key));
    count.abnormal += limits.filter(line => this.isAbnormal(this.shown(line.key))).length;
    const n = count.left.size, begun = own.length - count.na > count.open || count.abnormal;
    const state = !begun ? 'new' : n ? 'begun' : count.abnormal ? 'abnormal' : count.normal || count.measured ? 'normal' : 'unseen';
    const words = { new: `${n} to do`, begun: `${n} left`, abnormal: `${count.abnormal} abnormal`, normal: count.unseen ? `${count.unseen} not ex.` : 'all normal', unseen: `${count.unseen} not ex.` }[state];
    return { ...count, left: n, total: new Set(own.filter(line => line.asked === 'every' && !this.whyAbsent(line)).map(line => line.structure)).size, state, words };
  }
}

function joined(answers) {
  const seen = new Map(answers.flatMap(a => a.findings ?? []).map(f => [JSON.stringify(f), f]));
  return { ...answers[0], findings: [...seen.values()], derived: true };
}

/* Insecure origins have no randomUUID. */
function uuid() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map(b => b.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}
function deviceTime() {
  const now = new Date(), off = -now.getTimezoneOffset(), two = n => String(Math.floor(Math.abs(n))).padStart(2, '0');
  const local = new Date(now.getTime() + off * 60_000).toISOString().slice(0, 19);
  return `${local}${off < 0 ? '-' : '+'}${two(off / 60)}:${two(off % 60)}`;
}
