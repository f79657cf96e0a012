/* Teeth: the chart at the mouth's station, and what opens for one tooth. Every change is an operation on its line. */

import { $, button, el, lower, pick, picksOf, shape, upper } from './dom.js';
import { FindingRow, plainEntry } from './finding.js';
import { Chart, lettersOf } from './teeth-chart.js';
import { TEETH } from './teeth-row.js';
import { photoStrip } from './photos.js';
import { say } from './words.js';

export { drawn } from './teeth-chart.js';
const MISSING = 'MTH-07', PERIO = 'MTH-05', FURCATION = 'MTH-04', RETAINED = 'MTH-12', RESORPTION = 'MTH-15', WORN = 'MTH-11', COLOUR = 'MTH-10', CROWDED = 'MTH-14';
const HOW_MISSING = 'known extraction / never seen / unknown', LOSS = 'attachment loss %', XRAY = 'dental X-ray?', TYPE = 'type 1 / type 2 / type 3';
const CLOSED = 'enamel only / enamel and dentine / crown and root', OPEN = 'crown / crown and root';
const BROKEN = [['MTH-08', CLOSED, 'enamel only', 'Enamel only'], ['MTH-08', CLOSED, 'enamel and dentine', 'Crown, uncomplicated: pulp not exposed'], ['MTH-08', CLOSED, 'crown and root', 'Crown and root, uncomplicated'], ['MTH-09', OPEN, 'crown', 'Crown, complicated: pulp exposed'], ['MTH-09', OPEN, 'crown and root', 'Crown and root, complicated']];
/* What has faces of its own in the panel, and the one qualifier that they leave to the finding's row. */
const DRAWN = new Set(['MTH-02', 'MTH-03', PERIO, FURCATION, 'MTH-06', MISSING, 'MTH-08', 'MTH-09', COLOUR, WORN, RETAINED, CROWDED, RESORPTION]);
const LEFT = { 'MTH-08': ['mm'] };
const keyOf = number => `${TEETH}|${number}`;
const numberOf = line => Number(line.side);

/* ---- What stands, what is asked ---- */

/* Periodontal stage by its worse column; the rule is that of exams/grading.py (AVDC periodontal stages). */
export function stageOf(loss, furcation) {
  const byLoss = loss > 0 ? (loss < 25 ? 2 : loss <= 50 ? 3 : 4) : 1;
  return Math.max(byLoss, { 1: 2, 2: 3, 3: 4 }[furcation] ?? 0);
}
/* Suggestions are questions; the rule is that of `questions` in exams/tooth_chart.py. */
export function questions(app) {
  const { months, sulcus } = app.data.teeth, species = app.data.species;
  return app.model.at(TEETH).flatMap(line => {
    const answer = app.model.shown(line.key), charted = answer?.charted ?? {}, number = numberOf(line);
    if (!answer?.charted || app.model.whyAbsent(line)) return [];
    const known = new Set([...(answer.findings ?? []).map(f => f.code), ...(charted.no ?? [])]), asked = [], present = charted.present, out = charted.extracted ?? [];
    if (present && months !== null) {
      for (const baby of present.filter(n => n >= 500 && !out.includes(n))) {
        const beside = present.includes(baby - 400) && !out.includes(baby - 400);
        if (months >= 7 || (months >= 6 && beside)) asked.push([RETAINED, baby, `${baby} still stands ${beside ? `beside ${baby - 400} ` : ''}at ${Math.floor(months)} months. A retained baby tooth?`]);
      }
      if (!present.length && months >= 7 && number < 500 && !out.includes(number)) asked.push([MISSING, number, `${number} is not there at ${Math.floor(months)} months, no extraction on record. A missing tooth?`]);
    }
    const deepest = Math.max(0, ...Object.values(charted.pockets ?? {}).map(Number));
    if (deepest > sulcus[1] && !known.has(FURCATION)) asked.push([PERIO, number, `${number}: ${deepest} mm is deeper than the usual ${sulcus[0]} to ${sulcus[1]} mm of a ${species}. Periodontal disease?`]);
    return asked.filter(([code]) => !known.has(code)).map(([code, tooth, words]) => ({ line, code, tooth, words }));
  });
}
function chartedWords(app, line, charted = {}) {
  const { sites, zeros } = app.data.teeth, out = charted.extracted ?? [], own = numberOf(line);
  return [
    charted.present && String(charted.present) !== line.side && (charted.present.length ? `stands there: ${charted.present.join(', ')}` : 'no tooth there'),
    ...(charted.zeros ?? []).map(z => zeros[z]),
    charted.pockets && `pockets: ${Object.entries(charted.pockets).map(([site, mm]) => `${sites[site]} ${mm} mm`).join(', ')}`,
    out.length && `extracted today${String(out) === String(own) ? '' : `: ${out.join(', ')}`}`,
  ].filter(Boolean);
}
const words = (app, line, answer) => [say(app.model, answer).replace(/^normal$/, '').replaceAll(`, tooth ${line.side}`, ''), ...chartedWords(app, line, answer.charted)].filter(Boolean).join('; ') || 'normal';
function stands(app, line) {
  const why = app.model.whyAbsent(line), answer = app.model.shown(line.key);
  if (why) return { state: 'not-applicable', letters: ['X'], said: `not there, ${why}` };
  if (!answer) return { state: 'not-yet', letters: [], said: 'not looked at yet' };
  return { state: app.model.isAbnormal(answer) ? 'abnormal' : answer.status, letters: lettersOf(app.data.teeth.letters, answer), said: words(app, line, answer) };
}
const isAt = (app, line) => app.panels.key === line.key;

/* ---- The chart at its station ---- */

export function teeth(app, lines) {
  const { model } = app, last = app.data.teeth.last, structure = lines[0].structure, may = model.data.me.observes;
  const set = el('div', { class: 'choice-set' },
    pick({ kind: 'normal', name: 'MTH_teeth', value: 'normal', words: `All ${lines.length} normal`, mark: 'normal', click: () => app.groupNormal(lines) }),
    pick({ kind: 'unseen', name: 'MTH_teeth', value: 'not-examined', words: 'Not examined', mark: 'unseen', click: () => why.toggleAttribute('hidden', false) }));
  const why = el('div', { class: 'picks group-why', hidden: true, role: 'group', 'aria-label': 'Why not examined?' }, ...app.reasons().map(r => button(r.words, () => { why.hidden = true; app.sync.add(model.make(structure, 'station_rest_not_examined', { reason: r.key, all: true })); })));
  const made = el('fieldset', { class: 'choice choice-one', data: { group: structure, column: '' } }, el('legend', {}, el('span', { class: 'choice-of' }, lines[0].name)), set, el('p', { class: 'said small' }), why);
  set.toggleAttribute('inert', !may);

  const byNumber = new Map(lines.map(line => [numberOf(line), line]));
  const tells = number => {
    const line = byNumber.get(number), told = stands(app, line);
    return { ...told, name: `${line.side_words}: ${told.said}` };
  };
  const taps = (number, key) => {
    const line = byNumber.get(number);
    if (app.model.whyAbsent(line)) { app.say(`${line.side_words}: ${stands(app, line).said}`); return; }
    if (!may) return;
    if (key === 'n') normal(app, line);
    else if (key === 'x') app.choose(line, 'not-examined');
    else app.panels.open(line.key, app.model.shown(line.key)?.status === 'not-examined' ? 'unseen' : 'abnormal');
    redrawTeeth(app, made);
  };
  const chart = new Chart({ label: 'Tooth chart. Arrow keys go from tooth to tooth, Enter opens one, n is normal.', tells, taps, pressed: number => isAt(app, byNumber.get(number)) });
  const state = el('button', { type: 'button', class: 'button button-plain teeth-awake', on: { click: () => app.awake?.open() } });
  const box = el('div', { class: 'teeth-box' }, el('div', { class: 'teeth-bar' }, chart.views(), state), chart.scroll, el('p', { class: 'small quiet teeth-legend' }), el('div', { class: 'teeth-asks' }), el('ul', { class: 'teeth-list' }));
  if (last) box.append(lastChart(app, byNumber, last));
  Object.assign(made, { chart, box });
  app.teeth = { focus: key => chart.focus(Number(key.split('|')[1])) };
  return [made, box];
}

function lastChart(app, byNumber, last) {
  const told = Object.entries(last.answers).filter(([key]) => byNumber.has(Number(key.split('|')[1])));
  const holder = el('div', { class: 'teeth-last-chart', hidden: true }), box = el('div', { class: 'teeth-last' });
  const list = told.map(([key, answer]) => `${key.split('|')[1]} ${lastWords(app, byNumber.get(Number(key.split('|')[1])), answer)}`);
  box.append(el('p', { class: 'last' }, `${last.on}: ${list.length ? list.join('; ') : 'nothing abnormal on the teeth'}`));
  if (!told.length) return box;
  let chart = null;
  const toggle = button(`Chart of ${last.on}`, () => {
    holder.hidden = !holder.hidden;
    toggle.setAttribute('aria-pressed', String(!holder.hidden));
    if (!chart) {
      chart = new Chart({ label: `Tooth chart of ${last.on}: ${list.join('; ')}`, tells: number => { const answer = last.answers[keyOf(number)]; return { state: answer ? (answer.status === 'not-examined' ? 'not-examined' : 'abnormal') : 'not-yet', letters: answer ? lettersOf(app.data.teeth.letters, answer) : [], name: '' }; } });
      holder.append(el('p', { class: 'small' }, el('b', {}, `As charted on ${last.on}`), '. Teeth without a mark were normal or not charted.'), chart.scroll);
      chart.draw();
    }
    chart.fit();
  }, 'button-plain');
  toggle.setAttribute('aria-pressed', 'false');
  box.append(toggle, holder);
  return box;
}
const lastWords = (app, line, answer) => words(app, line, answer).replaceAll('extracted today', 'extracted that day');

export function redrawTeeth(app, made) {
  const { model } = app, { box, chart } = made, lines = model.at(TEETH), states = lines.filter(line => !model.whyAbsent(line)).map(line => [line, model.shown(line.key)]);
  const open = states.filter(([, a]) => !a).length, bad = states.filter(([, a]) => model.isAbnormal(a)), unseen = states.filter(([, a]) => a?.status === 'not-examined');
  const status = open ? '' : unseen.length === states.length ? 'not-examined' : bad.length ? '' : 'normal';
  for (const input of made.querySelectorAll('.choice-set input')) input.checked = input.value === status;
  $('.pick-normal > span', made).textContent = open && open < states.length ? `The other ${open} normal` : `All ${states.length} normal`;
  const letters = chart.draw();
  $('.said', made).replaceChildren(countWords(app, lines, states));
  $('.said', made).className = 'said small';
  $('.teeth-awake', box).textContent = awakeWords(app);
  const used = Object.entries(app.data.teeth.letters).filter(([, [letter]]) => [...letters].some(l => l.replace(/[?]$/, '').replace(/\d$/, '') === letter.replace('{g}', ''))); /* also without its grade */
  const grouped = new Map(used.toReversed().map(([, [letter, told]]) => [letter, told])); /* of two that share a letter the first names it */
  $('.teeth-legend', box).textContent = grouped.size ? [...grouped].map(([letter, told]) => `${letter.replace('{g}', '')} ${told}`).join(' · ') + ([...letters].some(l => l.endsWith('?')) ? ' · ? first impression, not under an anaesthetic' : '') : 'Tap a tooth. Without a mark nobody has looked yet.';
  $('.teeth-list', box).replaceChildren(...lines.filter(line => isTold(app, line)).map(line => toothRow(app, line)));
  $('.teeth-asks', box).replaceChildren(...questions(app).map(question => ask(app, question)));
}
function isTold(app, line) {
  const answer = app.model.shown(line.key);
  return Boolean(answer) && !app.model.whyAbsent(line) && (app.model.isAbnormal(answer) || Boolean(answer.charted) || (answer.findings ?? []).length > 0 || answer.in_part);
}
function toothRow(app, line) {
  const told = stands(app, line);
  const open = button('', () => app.panels.open(line.key, 'abnormal'), 'button-plain tooth-row');
  open.setAttribute('aria-label', `Open ${line.side_words}`);
  return el('li', {}, open, el('span', { class: `mark small ${told.state === 'abnormal' ? 'is-look' : 'is-unseen'}` }, shape(told.state === 'abnormal' ? 'abnormal' : 'normal'), el('span', {}, el('b', {}, line.side_words), ` ${told.said}`)));
}
function countWords(app, lines, states) {
  const { mixed, young } = app.data.teeth, gone = [...lines.filter(line => app.model.whyAbsent(line)), ...states.filter(([line, a]) => lettersOf(app.data.teeth.letters, a).some(l => l === 'X' || (l === 'XX' && a.charted.extracted.includes(numberOf(line))))).map(([line]) => line)];
  const list = gone.length ? `; not there: ${gone.map(line => line.side).join(', ')}` : '';
  if (mixed) return `Mixed teeth: the adult set of ${lines.length} is complete by 6 to 7 months${list}.`;
  if (states.some(([, a]) => !a)) return `A full set is ${lines.length}${young ? ' baby teeth' : ''}${list}.`;
  return `${lines.length - gone.length} of ${lines.length} ${young ? 'baby ' : ''}teeth${list}.`;
}
function awakeWords(app) {
  const log = app.model.awakeLog ?? [], now = log.at(-1);
  if (!now) return 'Awake? Not said yet: taken as awake';
  return `${upper(now.state)}${now.by_what ? ` (${now.by_what})` : ''}: change`;
}
function ask(app, { line, code, tooth, words: asked }) {
  const yes = button(code === PERIO ? 'Yes: stage it' : 'Yes, record it', () => {
    if (code === PERIO) { app.panels.open(line.key, 'abnormal'); return; }
    const draft = draftOf(app, line);
    const entry = { code, qualifiers: {}, ...(app.model.awake ? { made_in: app.model.awake } : {}), ...(code === RETAINED ? { tooth } : {}), ...(code === MISSING ? { circumstances: ['unexplained'] } : {}) };
    draft.findings.set(code, entry);
    send(app, line, draft);
    if (code === MISSING) app.panels.open(line.key, 'abnormal');
  });
  const no = button('No', () => { const draft = draftOf(app, line); draft.charted.no = [...(draft.charted.no ?? []), code]; send(app, line, draft); }, 'button-plain');
  for (const each of [yes, no]) each.setAttribute('aria-label', `${each.textContent}: ${asked}`);
  return el('div', { class: 'notice notice-look' }, shape('flag'), el('p', {}, asked), el('div', { class: 'picks' }, yes, no));
}

/* ---- One tooth: a draft, and how it is sent ---- */

function draftOf(app, line) {
  const answer = app.model.stored(line) ?? {};
  return {
    normal: answer.status === 'normal', stood: Boolean(answer.status),
    findings: new Map((answer.findings ?? []).map(f => [f.code, { ...f, qualifiers: { ...f.qualifiers } }])),
    charted: structuredClone(answer.charted ?? {}), part: answer.in_part ? { reason: answer.reason ?? '', words: answer.reason_words ?? '' } : null,
  };
}
/* What a finding still needs before it is sent; it waits in the panel until then. */
function lacks(draft, entry) {
  const loss = entry.qualifiers?.[LOSS], furcation = Number(draft.findings.get(FURCATION)?.grade ?? 0);
  if (entry.code === PERIO) {
    if (!entry.grade) return 'which stage?';
    const least = stageOf(Number(loss ?? 0), furcation);
    if (loss !== undefined ? Number(entry.grade) !== least : Number(entry.grade) < least) return `PD ${least} by its worse column`;
  }
  if (entry.code === FURCATION && !entry.grade && !entry.severity && !entry.qualifiers?.mm) return 'how far?';
  if (entry.code === RESORPTION && (entry.grade || entry.qualifiers?.[TYPE]) && entry.qualifiers?.[XRAY] !== 'yes') return 'stage and type need a dental X-ray';
  return '';
}
function plain(entry) {
  const kept = plainEntry(entry);
  for (const name of ['unconfirmed', 'made_in']) if (entry[name]) kept[name] = entry[name];
  return kept;
}
function chartedOf(draft) {
  const { present, pockets, zeros, extracted, no } = draft.charted, kept = {};
  if (present) kept.present = present;
  if (Object.keys(pockets ?? {}).length) kept.pockets = pockets;
  for (const [name, list] of Object.entries({ zeros, extracted, no })) if ((list ?? []).length) kept[name] = list;
  return kept;
}
/* True when all of it was sent; else something waits for a word. */
function send(app, line, draft) {
  const whole = [...draft.findings.values()].filter(entry => !lacks(draft, entry)), findings = whole.map(plain), charted = chartedOf(draft), any = Object.keys(charted).length;
  const more = { ...(any ? { charted } : {}), ...(draft.part ? { in_part: draft.part } : {}) };
  if (findings.length) app.sync.add(app.model.make(line.key, 'set_abnormal', { findings, ...more }));
  else if (draft.normal) app.sync.add(app.model.make(line.key, 'set_normal', more));
  else if (any) return false;
  else if (draft.stood) app.sync.add(app.model.make(line.key, 'clear'));
  draft.stood = Boolean(findings.length || draft.normal);
  if (findings.length) draft.normal = false;
  return whole.length === draft.findings.size;
}
function normal(app, line) {
  if (app.model.openFlags('MTH').length) { app.wrongGroup(TEETH, 'Answer the heads-up above first.'); return; }
  const draft = draftOf(app, line);
  draft.findings.clear();
  draft.normal = true;
  send(app, line, draft);
}

/* ---- The panel of one tooth ---- */

export function toothPanel(app, panel, line) {
  const draft = draftOf(app, line), body = el('div', { class: 'tooth-panel' }), ctx = { app, model: app.model, line, draft, body, rows: new Map() };
  ctx.sent = () => { ctx.waits = !send(app, line, draft); draw(ctx); };
  panel.append(body);
  draw(ctx);
}
function draw(ctx) {
  const { app, line, draft, body } = ctx, held = document.activeElement?.closest?.('.tooth-panel') ? document.activeElement.dataset.id ?? document.activeElement.querySelector?.('input')?.dataset.id : '';
  const at = document.activeElement, open = new Set([...body.querySelectorAll('details[open][data-id]')].map(d => d.dataset.id));
  const needsNormal = !draft.findings.size && !draft.normal && Object.keys(chartedOf(draft)).length;
  const note = needsNormal ? el('div', { class: 'notice notice-look' }, shape('flag'), el('p', {}, 'What you charted waits here: is the tooth normal otherwise, or what is wrong with it?')) : null;
  body.replaceChildren(...[history(ctx), whole(ctx), note, there(ctx), ...(isGone(ctx) ? [] : [gums(ctx), crown(ctx), pockets(ctx)]), found(ctx), today(ctx), foot(ctx)].filter(Boolean));
  for (const d of body.querySelectorAll('details[data-id]')) if (open.has(d.dataset.id)) d.open = true;
  if (held) body.querySelector(`[data-id="${CSS.escape(held)}"]`)?.focus({ preventScroll: true });
  else if (at !== document.activeElement && body.contains(at)) at.focus({ preventScroll: true });
  const group = $(`.choice[data-group="${TEETH}"]`);
  if (group) redrawTeeth(app, group);
}
/* A face that can be tapped on and off. */
function face(ctx, id, told, checked, does, { mark = 'abnormal', kind = 'abnormal', lead, type = 'checkbox' } = {}) {
  const made = pick({ kind, type, name: `tooth-${id}`, mark, words: told, lead, checked, change: on => { does(on); ctx.sent(); } });
  made.querySelector('input').dataset.id = id;
  return made;
}
const block = (title, ...children) => el('fieldset', { class: 'tooth-block' }, el('legend', {}, title), ...children.filter(Boolean));
const own = ctx => { const there = ctx.draft.charted.present; return there?.length && !there.includes(numberOf(ctx.line)) ? there[0] : numberOf(ctx.line); };
function put(ctx, code, change = {}) {
  const before = ctx.draft.findings.get(code) ?? { code, qualifiers: {} };
  const entry = { ...before, ...change, qualifiers: { ...before.qualifiers, ...change.qualifiers } };
  if (ctx.model.awake) entry.made_in = ctx.model.awake; else delete entry.made_in;
  delete entry.awake_estimate;
  if (own(ctx) !== numberOf(ctx.line) && code !== RETAINED) entry.tooth = own(ctx);
  ctx.draft.findings.set(code, entry);
  ctx.draft.normal = false;
  const scale = ctx.model.walk.findings[code].scale;
  ctx.draft.charted.zeros = (ctx.draft.charted.zeros ?? []).filter(z => z !== scale);
}
const drop = (ctx, code) => ctx.draft.findings.delete(code);
/* Where no tooth stands there is no tartar and no pocket; a baby tooth may still be there. */
function emptied({ draft }) {
  for (const code of [...draft.findings.keys()]) if (code !== RETAINED) draft.findings.delete(code);
  for (const name of ['pockets', 'zeros']) delete draft.charted[name];
}
const isGone = ({ draft }) => draft.findings.has(MISSING) && [...draft.findings.keys()].every(code => [MISSING, RETAINED].includes(code));

function history({ app, line }) {
  const last = app.data.teeth.last, before = last?.answers[line.key];
  return el('p', { class: 'last' }, before ? `${last.on}: ${lastWords(app, line, before)} ` : '', el('a', { href: `${app.data.teeth.history}%7C${line.side}/` }, 'this tooth over the visits'));
}
function whole(ctx) {
  const { draft, app, line } = ctx, missing = draft.findings.get(MISSING), baby = numberOf(line) + 400;
  const faces = [
    face(ctx, 'normal', 'Normal', draft.normal && !draft.findings.size, on => { draft.findings.clear(); draft.normal = on; }, { kind: 'normal', mark: 'normal' }),
    face(ctx, 'missing', 'Missing', Boolean(missing), on => { if (on) { emptied(ctx); put(ctx, MISSING, { circumstances: ['unexplained'] }); } else drop(ctx, MISSING); }),
  ];
  const unseen = button('Not examined', () => app.choose(line, 'not-examined'));
  const how = missing ? picksOf('Why is it missing?', [['known extraction', 'extraction on record or told'], ['never seen', 'never seen'], ['unknown', 'not known']].map(([value, told]) => face(ctx, `missing-${value}`, told, missing.qualifiers[HOW_MISSING] === value, on => {
    put(ctx, MISSING, { qualifiers: { [HOW_MISSING]: on ? value : '' } });
    const entry = draft.findings.get(MISSING);
    if (!on) delete entry.qualifiers[HOW_MISSING];
    entry.circumstances = value === 'known extraction' && on ? [] : ['unexplained'];
  })), false) : null;
  if (isGone(ctx) && app.data.teeth.babies.includes(baby)) faces.push(retained(ctx));
  if (app.model.openFlags('MTH').length) faces[0].querySelector('input').disabled = true;
  return block('The whole tooth', el('div', { class: 'picks' }, ...faces, unseen), how);
}
/* Which teeth stand at this place: asked while they change, and whenever a baby tooth is still there. */
function there(ctx) {
  const { draft, app, line } = ctx, { mixed, babies } = app.data.teeth, number = numberOf(line), baby = number + 400, said = draft.charted.present;
  if (number >= 500 || (!mixed && said === undefined && !ctx.asks)) {
    if (number >= 500 || !babies.includes(baby)) return null;
    return el('p', {}, button(`A baby tooth (${baby}) stands here`, () => { ctx.asks = true; draw(ctx); }, 'button-plain'));
  }
  const options = babies.includes(baby) ? [[[baby], `baby tooth ${baby}`], [[number], `adult tooth ${number}`], [[baby, number], 'both'], [[], 'neither']] : [[[number], `adult tooth ${number}`], [[], 'not there']];
  const same = list => said && String([...said].sort()) === String([...list].sort());
  const questionsHere = questions(app).filter(q => q.line === line);
  return block('What stands at this place?', el('div', { class: 'picks' }, ...options.map(([list, told]) => face(ctx, `there-${list.join('-') || 'none'}`, told, Boolean(same(list)), on => { if (on) draft.charted.present = list; else delete draft.charted.present; }, { kind: 'act', mark: 'normal' }))),
    questionsHere.length ? el('p', { class: 'small is-look' }, 'See the question below the chart.') : null);
}

/* ---- Scales ---- */

function scaleOf(ctx, code, title, { zero = true } = {}) {
  const { model, draft } = ctx, found = model.walk.findings[code], scale = model.walk.scales[found.scale], entry = draft.findings.get(code), zeros = draft.charted.zeros ?? [];
  const short = g => g.label.replace(/^(PD|stage|grade) /, '');
  const faces = scale.grades.map(g => face(ctx, `${code}-${g.key}`, el('span', { class: 'vh' }, `, ${g.wording}`), entry?.grade === g.key, on => { if (on) put(ctx, code, { grade: g.key }); else { const now = draft.findings.get(code); delete now.grade; if (!now.severity && !Object.keys(now.qualifiers).length) drop(ctx, code); } }, { lead: short(g) }));
  if (zero) faces.unshift(face(ctx, `${code}-0`, el('span', { class: 'vh' }, `, ${scale.normal ?? 'none'}`), zeros.includes(found.scale), on => { drop(ctx, code); draft.charted.zeros = on ? [...zeros, found.scale] : zeros.filter(z => z !== found.scale); }, { kind: 'normal', mark: 'normal', lead: '0' }));
  const grade = scale.grades.find(g => g.key === entry?.grade), read = grade ? grade.wording : zeros.includes(found.scale) ? scale.normal : '';
  const more = el('details', { class: 'tooth-scale', data: { id: `words-${code}` } }, el('summary', {}, 'wording and source'),
    el('dl', {}, ...[scale.normal && ['', scale.normal], ...scale.grades.map(g => [g.label, g.wording])].filter(Boolean).flatMap(([label, told]) => [el('dt', {}, label), el('dd', {}, told)])),
    el('p', { class: 'small quiet' }, [scale.title, scale.source && `Source: ${scale.source}`, { memory: 'From memory, to be checked', restated: 'As restated by others' }[scale.certainty], scale.note].filter(Boolean).join('. ').replaceAll('..', '.')));
  return el('fieldset', { class: 'tooth-grade' }, el('legend', {}, title), el('div', { class: 'picks' }, ...faces), read ? el('p', { class: 'small' }, read) : null, more);
}
function field(ctx, id, label, value, does, unit = '') {
  const input = el('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', data: { id } });
  input.value = value ?? '';
  input.addEventListener('change', () => { does(input.value.trim().replace(',', '.')); ctx.sent(); });
  return el('label', { class: 'field tooth-field' }, el('span', {}, label), el('span', { class: 'tooth-unit' }, input, el('span', {}, unit)));
}
const set = (ctx, code, name, value) => { put(ctx, code, {}); const entry = ctx.draft.findings.get(code); if (value) entry.qualifiers[name] = value; else delete entry.qualifiers[name]; };

function gums(ctx) {
  const { draft, model } = ctx, stage = draft.findings.get(PERIO), loss = stage?.qualifiers[LOSS], furcation = Number(draft.findings.get(FURCATION)?.grade ?? 0);
  const least = loss !== undefined || furcation ? stageOf(Number(loss ?? 0), furcation) : 0, parts = [];
  if (least && (!stage?.grade || (stage && lacks(draft, stage)))) {
    const seen = [loss !== undefined && `${loss} % attachment loss`, furcation && `furcation ${furcation}`].filter(Boolean).join(' and ');
    const take = button(`Take PD ${least}`, () => { put(ctx, PERIO, { grade: String(least) }); ctx.sent(); });
    take.dataset.id = 'take-stage';
    parts.push(el('div', { class: 'notice notice-look' }, shape('flag'), el('p', {}, `${seen}: PD ${least}. The stage is the worse column.`), take));
  }
  if (stage && model.awake === 'anaesthetised' && stage.made_in !== 'anaesthetised') {
    const again = button('Staged again under the anaesthetic: the same', () => { put(ctx, PERIO, {}); ctx.sent(); });
    again.dataset.id = 'stage-again';
    parts.push(el('p', { class: 'small' }, 'This stage was seen awake: a first impression. '), again);
  } else if (stage && stage.made_in !== 'anaesthetised') parts.push(el('p', { class: 'small is-look' }, 'First impression, awake: a stage is firm only under an anaesthetic.'));
  const many4 = el('div', { class: 'tooth-grades' }, scaleOf(ctx, 'MTH-03', 'Gingivitis'), scaleOf(ctx, PERIO, 'Periodontal stage, PD'), scaleOf(ctx, FURCATION, 'Furcation'), scaleOf(ctx, 'MTH-06', 'Loose (mobility)'));
  const fields = el('div', { class: 'tooth-fields' },
    field(ctx, 'loss', 'Attachment loss', loss, value => { if (value || stage) set(ctx, PERIO, LOSS, value); }, '%'),
    field(ctx, 'bare', 'Bare root', draft.findings.get(FURCATION)?.qualifiers.mm, value => { if (value || draft.findings.has(FURCATION)) { set(ctx, FURCATION, 'mm', value); const now = draft.findings.get(FURCATION); if (!value && !now.grade) drop(ctx, FURCATION); } }, 'mm'));
  return block('Gum and hold', many4, ...parts, fields);
}

function crown(ctx) {
  const { draft, model, line } = ctx, resorbed = draft.findings.get(RESORPTION), kept = draft.findings.get(RETAINED);
  const broken = BROKEN.map(([code, name, value, told]) => face(ctx, `broken-${code}-${value}`, told, draft.findings.get(code)?.qualifiers[name] === value, on => { drop(ctx, 'MTH-08'); drop(ctx, 'MTH-09'); if (on) put(ctx, code, { qualifiers: { [name]: value } }); }));
  const open = draft.findings.get('MTH-09');
  const age = open ? picksOf('How old is the break?', ['fresh', 'old'].map(value => face(ctx, `broken-${value}`, value, open.qualifiers['fresh / old'] === value, on => set(ctx, 'MTH-09', 'fresh / old', on ? value : ''))), false) : null;
  const one = (code, id, values, name) => values.map(value => face(ctx, `${id}-${value}`, value, name ? draft.findings.get(code)?.qualifiers[name] === value : draft.findings.get(code)?.severity === value, on => {
    if (!on) drop(ctx, code);
    else put(ctx, code, name ? { qualifiers: { [name]: value } } : { severity: value });
  }));
  const parts = [
    el('div', { class: 'tooth-grades' }, scaleOf(ctx, 'MTH-02', 'Calculus')),
    picksOf('Broken', broken, false), age,
    picksOf('Worn', one(WORN, 'worn', model.walk.findings[WORN].severity ?? []), false),
    picksOf('Discoloured', one(COLOUR, 'colour', ['pink', 'purple', 'grey'], 'pink / purple / grey'), false),
    picksOf('Place', [...one(CROWDED, 'crowded', ['crowded', 'rotated', 'extra tooth beside it'], 'crowded / rotated / extra tooth beside it'),
      ...(ctx.app.data.teeth.babies.includes(numberOf(line) + 400) || kept ? [retained(ctx)] : [])], false),
    resorption(ctx, resorbed),
  ];
  const others = line.codes.filter(code => !DRAWN.has(code));
  if (others.length) parts.push(picksOf('Else', others.map(code => face(ctx, code, model.walk.findings[code].name, draft.findings.has(code), on => { if (on) put(ctx, code, {}); else drop(ctx, code); })), false));
  return block('Crown and root', ...parts);
}
function retained(ctx) {
  const baby = numberOf(ctx.line) + 400;
  return face(ctx, 'retained', `retained baby tooth ${baby}`, ctx.draft.findings.has(RETAINED), on => { if (on) put(ctx, RETAINED, { tooth: baby }); else drop(ctx, RETAINED); });
}
/* Suspected by eye and probe; stage and type are read from a dental X-ray. */
function resorption(ctx, entry) {
  const { draft } = ctx, set1 = [face(ctx, 'resorption', 'suspected', Boolean(entry), on => { if (on) put(ctx, RESORPTION, {}); else drop(ctx, RESORPTION); })];
  if (entry) set1.push(face(ctx, 'resorption-xray', 'dental X-ray taken', entry.qualifiers[XRAY] === 'yes', on => { set(ctx, RESORPTION, XRAY, on ? 'yes' : ''); if (!on) { const now = draft.findings.get(RESORPTION); delete now.grade; delete now.qualifiers[TYPE]; } }, { kind: 'act', mark: 'normal' }));
  const parts = [picksOf('Resorption', set1, false)];
  if (entry?.qualifiers[XRAY] === 'yes') parts.push(scaleOf(ctx, RESORPTION, 'Stage, from the X-ray', { zero: false }), picksOf('Type, from the X-ray', ['type 1', 'type 2', 'type 3'].map(value => face(ctx, `resorption-${value}`, value, entry.qualifiers[TYPE] === value, on => set(ctx, RESORPTION, TYPE, on ? value : ''))), false));
  return el('div', { class: 'tooth-resorption' }, ...parts);
}

function pockets(ctx) {
  const { draft, app, model } = ctx, { sites, sulcus } = app.data.teeth, told = draft.charted.pockets ?? {};
  if (model.awake !== 'anaesthetised' && !Object.keys(told).length) return block('Pockets', el('p', { class: 'small quiet' }, 'Probed under an anaesthetic only, not awake. ', button('Anaesthetised now', () => app.awake?.open('anaesthetised'), 'button-plain')));
  return block(`Pockets, mm (usual for a ${app.data.species}: ${sulcus[0]} to ${sulcus[1]})`, el('div', { class: 'tooth-pockets' }, ...Object.entries(sites).map(([site, name]) => field(ctx, `pocket-${site}`, name, told[site], value => {
    const depth = Number(value);
    if (value && !(depth >= 0 && depth <= 20)) return;
    draft.charted.pockets = { ...told, [site]: value };
    if (!value) delete draft.charted.pockets[site];
  }, Number(told[site]) > sulcus[1] ? 'mm, deep' : 'mm'))), el('p', { class: 'small quiet' }, 'Usual depths: dvm360, oral charting proceedings.'));
}
/* How urgent each finding of this tooth is, and what is said more rarely: the same rows as in every other panel. */
function found({ app, line, draft, rows, sent }) {
  for (const [code, row] of rows) if (draft.findings.get(code) !== row.entry) rows.delete(code);
  for (const [code, entry] of draft.findings) if (!rows.has(code)) rows.set(code, new FindingRow(app, line, entry, () => sent(), DRAWN.has(code) ? { left: LEFT[code] ?? [], lacks: e => lacks(draft, e) } : null));
  for (const row of rows.values()) row.refresh();
  return rows.size ? block('How urgent is it?', el('ul', { class: 'told' }, ...[...draft.findings.keys()].map(code => rows.get(code).root))) : null;
}
function today(ctx) {
  const { draft, app, model, line } = ctx, out = draft.charted.extracted ?? [], number = own(ctx);
  if (!app.data.me.assesses || (model.awake !== 'anaesthetised' && !out.length)) return null;
  const teeth = [...new Set([...(draft.charted.present ?? [numberOf(line)]), ...(draft.findings.has(RETAINED) ? [draft.findings.get(RETAINED).tooth] : []), ...out])].filter(n => n !== numberOf(line) || !draft.findings.has(MISSING) || out.includes(n)); /* what is not there is not drawn */
  if (!teeth.length && draft.findings.has(MISSING)) return null;
  return block('Done today', el('div', { class: 'picks' }, ...(teeth.length ? teeth : [number]).map(n => face(ctx, `out-${n}`, `${n} extracted today`, out.includes(n), on => { draft.charted.extracted = on ? [...out, n] : out.filter(x => x !== n); }, { kind: 'act', mark: 'normal' }))), el('p', { class: 'small quiet' }, 'Recorded as done by you. Who may draw teeth is for local law.'));
}
function foot(ctx) {
  const { app, model, line, draft } = ctx;
  const note = el('textarea', { rows: 1, data: { id: 'note' } });
  note.value = model.notes.get(line.stored_at[0]) ?? '';
  note.addEventListener('change', () => app.sync.add(model.make(line.key, 'note', { text: note.value })));
  const wants = [...draft.findings.values()].map(entry => [entry, lacks(draft, entry)]).filter(([, why]) => why);
  return el('div', { class: 'panel-more' },
    wants.length ? el('p', { class: 'small is-look', role: 'status' }, `Not kept yet: ${wants.map(([entry, why]) => `${lower(model.walk.findings[entry.code].name)}, ${why}`).join('; ')}`) : null,
    el('label', { class: 'field' }, el('span', {}, 'Note'), note),
    el('a', { class: 'button button-plain', href: `${model.data.urls.plan}?line=${encodeURIComponent(line.stored_at[0])}` }, 'Open a problem'),
    ctx.photos ??= photoStrip(app, line.stored_at[0], line.side_words));
}
