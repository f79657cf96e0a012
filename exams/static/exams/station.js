/* One station: its lines, built when it is first opened, and what stands on each. */

import { $, $$, button, el, lower, many, pick, plainName, reshape, shape } from './dom.js';
import { thereIsOne } from './gone.js';
import { flags, pinner } from './flags.js';
import { TEETH, redrawTeeth, teethRow } from './teeth-row.js';
import { isNode, nodeSize, sayNode, suggestions } from './nodes.js';
import { variantsOf } from './panel.js';
import { howItWas, prompts } from './prompts.js';
import { openTotal, scaleButton } from './scales.js';
import { urgencyOf } from './urgency.js';
import { REFILL, clock, place, readUnit, say, sideLabel, unitWords, valueWords } from './words.js';

const CHOICES = [['normal', 'Normal', 'normal', 'normal'], ['abnormal', 'Abnormal', 'abnormal', 'abnormal'], ['not-examined', 'Not examined', 'unseen', 'unseen']];
const SCORES = {
  'bcs-9': [...'123456789'].map(n => [n, n]),
  'mcs-4': ['normal', 'mild', 'moderate', 'severe'].map(w => [w, w]),
  'pain-4': ['none', 'mild', 'moderate', 'severe'].map(w => [w, w]),
  s: Object.entries(REFILL),
};
const ASKED_WITH = { mmHg: { 'blood-pressure': ['cuff', 'site', 'device', 'readings'], iop: ['device'] } };

export function build(app, code) {
  const root = document.getElementById(code);
  if ($('.lines', root)) return;
  const { model } = app, station = model.stations.get(code);
  const means = button('what normal means', () => means.setAttribute('aria-pressed', String(root.classList.toggle('show-means'))), 'button-plain');
  means.setAttribute('aria-pressed', 'false');
  $('.station-how', root).append(means);
  root.append(el('div', { class: 'flags' }), el('div', { class: 'heard-here' }));
  const structures = new Map();
  for (const line of station.lines) structures.set(line.structure, [...(structures.get(line.structure) ?? []), line]);
  const paired = [...structures.values()].some(lines => lines.some(line => line.side === 'left'));
  const rows = [...structures.values()].sort((a, b) => Number(a[0].structure.endsWith('.*')) - Number(b[0].structure.endsWith('.*'))).map(lines => row(app, lines));
  root.append(el('div', { class: 'lines' }, paired ? el('div', { class: 'lines-head', 'aria-hidden': 'true' }, el('span'), el('span', {}, 'Left'), el('span', {}, 'Right')) : null, el('ul', {}, ...rows)));
  root.append(app.foot.build(code));
  if (model.data.me.measures) root.append(pinner(app, code));
  const watch = new IntersectionObserver(entries => {
    let news = false;
    for (const entry of entries) if (entry.isIntersecting) { app.seen.add(entry.target.dataset.structure); watch.unobserve(entry.target); news = true; }
    if (news) app.foot.refresh(code);
  }, { threshold: 0.6 });
  for (const li of rows) if (!li.dataset.structure.endsWith('.*')) Promise.resolve(li.whole).then(() => watch.observe(li));
}

function row(app, lines) {
  const { model } = app, first = lines[0], [plain, aside] = [plainName(first.name), first.name.match(/\((.*)\)/)?.[1]];
  const whole = first.structure.endsWith('.*');
  const name = el('div', { class: 'line-name' }, el('span', {}, whole ? 'Of the whole station' : plain),
    aside && !whole ? el('small', {}, aside) : null, first.depth === 'indication' && first.asked !== 'every' ? el('small', { class: 'depth' }, 'on indication') : null,
    el('span', { class: 'line-means' }, [first.normal_means, first.how_to_check, variantsOf(model, first).length && first.depth !== 'measured' && lines.length <= 4 && 'Tap Normal again for what goes with it.'].filter(Boolean).join(' ')));
  const li = el('li', { class: 'line', data: { structure: first.structure } }, name);
  if (first.structure === TEETH) li.whole = teethRow(app, li, lines);
  else if (lines.length > 4) li.append(group(app, lines));
  else for (const line of ordered(lines)) li.append(line.depth === 'measured' ? measured(app, line) : choice(app, line, lines.length));
  return li;
}
/* Left under Left: pairs, four limbs (front, then hind), four quadrants (upper, then lower). */
function ordered(lines) {
  const at = ['left', 'right', 'LF', 'RF', 'LH', 'RH', 'upper-left', 'upper-right', 'lower-left', 'lower-right'];
  return [...lines].sort((a, b) => at.indexOf(a.side) - at.indexOf(b.side));
}
const column = side => (/^(left|LF|LH|.*-left)$/.test(side) ? 'left' : /^(right|RF|RH|.*-right)$/.test(side) ? 'right' : '');

function choice(app, line, of) {
  const { model } = app, whole = line.structure.endsWith('.*'), id = line.key.replace(/\W/g, '_');
  const set = el('div', { class: 'choice-set' }, ...CHOICES.filter(([value]) => !whole || value !== 'normal').map(([value, words, kind, mark]) => pick({
    kind, name: id, value, words, mark, change: () => app.choose(line, value),
    click: () => {
      if (app.panels.key === line.key) return;
      if (value !== 'normal') app.panels.open(line.key, value === 'abnormal' ? 'abnormal' : 'unseen');
      else if (variantsOf(model, line).length && model.shown(line.key)?.status === 'normal') app.panels.open(line.key, 'normal'); /* a second tap: what goes with it */
    } })));
  const made = el('fieldset', { class: `choice ${column(line.side) ? '' : 'choice-one'} ${of > 2 ? 'choice-four' : ''} ${whole ? 'choice-whole' : ''}`, data: { key: line.key, column: column(line.side) } },
    el('legend', {}, el('span', { class: 'choice-of' }, `${line.name}${line.side === '-' ? '' : ', '}`), el('span', { class: 'choice-side' }, sideLabel(line))), set, el('p', { class: 'said small', hidden: true }));
  if (isNode(model, line)) made.append(nodeSize(app, line));
  const last = model.data.last[line.stored_at[0]];
  if (last) made.append(el('p', { class: 'last' }, last, ' ', allVisits(app, line)));
  set.toggleAttribute('inert', !model.data.me.observes);
  return made;
}

/* Many of one kind (milk glands): normal or not examined together, abnormal one by one. */
function group(app, lines) {
  const { model } = app, structure = lines[0].structure, id = structure.replace(/\W/g, '_');
  const set = el('div', { class: 'choice-set' },
    pick({ kind: 'normal', name: id, value: 'normal', words: `All ${lines.length} normal`, mark: 'normal', click: () => app.groupNormal(lines) }),
    pick({ kind: 'abnormal', name: id, value: 'abnormal', words: 'Abnormal: which?', mark: 'abnormal', click: () => $('.chips', made).toggleAttribute('hidden', false) }),
    pick({ kind: 'unseen', name: id, value: 'not-examined', words: 'Not examined', mark: 'unseen', click: () => $('.group-why', made).toggleAttribute('hidden', false) }));
  const chips = el('div', { class: 'chips', hidden: true, role: 'group', 'aria-label': 'Which?' }, ...chipRows(lines).map(chips => el('div', { class: 'chip-row' }, ...chips.map(line => {
    const chip = button('', () => { if (!model.shown(line.key)) app.choose(line, 'abnormal'); app.panels.open(line.key, model.shown(line.key)?.status === 'not-examined' ? 'unseen' : 'abnormal'); }, 'chip');
    chip.dataset.chip = line.key;
    chip.append(shape('new'), line.side.split('-').map((p, i) => (i ? p : p === 'left' ? 'L' : 'R')).join(' '));
    chip.setAttribute('aria-label', line.side_words);
    return chip;
  }))));
  const why = el('div', { class: 'picks group-why', hidden: true, role: 'group', 'aria-label': 'Why not examined?' }, ...app.reasons().map(r => button(r.words, () => { why.hidden = true; app.sync.add(model.make(structure, 'station_rest_not_examined', { reason: r.key, all: true })); })));
  const made = el('fieldset', { class: 'choice choice-one', data: { group: structure, column: '' } }, el('legend', {}, el('span', { class: 'choice-of' }, lines[0].name)), set, el('p', { class: 'said small', hidden: true }), why, chips);
  const last = lines.filter(line => model.data.last[line.key]).map(line => `${line.side_words}: ${model.data.last[line.key]}`);
  if (last.length) made.append(el('p', { class: 'last' }, last.join('; ')));
  set.toggleAttribute('inert', !model.data.me.observes);
  return made;
}
const chipRows = lines => ['left', 'right'].map(s => lines.filter(line => line.side.startsWith(s)));

/* A measured line: no Normal. The value decides; without one there is a field, or a reason. */
function measured(app, line) {
  const { model } = app, kind = model.data.measures[line.stored_at[0]] ?? '', scores = SCORES[line.value];
  const made = el('fieldset', { class: `choice choice-measured ${column(line.side) ? '' : 'choice-one'}`, data: { key: line.key, column: column(line.side) } },
    el('legend', {}, el('span', { class: 'choice-of' }, `${line.name}${line.side === '-' ? '' : ', '}`), el('span', { class: 'choice-side' }, sideLabel(line))));
  const set = el('div', { class: 'measure-set' }, el('p', { class: 'measure-now' }));
  const details = {}, how = howItWas(model, line);
  const send = (value, more = {}) => {
    app.wrong(line.key, '');
    made.dataset.typed = value;
    app.sync.add(model.make(line.key, 'measure', { value, unit: readUnit(model, line.value), details, ...(how?.lastChild.value ? { state: how.lastChild.value } : {}), ...more }));
  };
  made.again = () => send(made.dataset.typed, { looked_twice: true });
  if (scores) set.append(el('div', { class: 'picks measure-in' }, ...scores.map(([value, words]) => pick({ kind: 'act', name: `${line.key}-value`, value, words, mark: 'normal', click: () => send(value) }))));
  else {
    const input = el('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'aria-label': `${line.name}${line.side === '-' ? '' : `, ${sideLabel(line)}`}, ${unitWords(readUnit(model, line.value))}` });
    input.addEventListener('change', () => { if (input.value.trim()) send(input.value.trim()); });
    const wants = ASKED_WITH[line.value]?.[kind.replace(/-(left|right)$/, '')] ?? [];
    set.append(...wants.map(name => {
      const field = el('input', { type: 'text', autocomplete: 'off' });
      field.addEventListener('change', () => { details[name] = field.value.trim(); });
      return el('label', { class: 'measure-in measure-how' }, el('span', {}, name), field);
    }), el('label', { class: 'measure-in' }, el('span', { class: 'vh' }, 'value'), input, el('span', {}, unitWords(readUnit(model, line.value)))));
  }
  const unseen = pick({ kind: 'unseen', name: `${line.key}-value`, value: 'not-examined', words: 'Not examined', mark: 'unseen', change: () => app.choose(line, 'not-examined'), click: () => { if (app.panels.key !== line.key) app.panels.open(line.key, 'unseen'); } });
  const again = button('measure again', () => { made.dataset.again = ''; $('.measure-in input', made).focus(); }, 'button-plain');
  set.append(...(how ? [how] : []), unseen, again, ...sheets(app, line, scores ? send : null));
  made.append(set, el('p', { class: 'said small', hidden: true }), el('p', { class: 'field-error small', role: 'status' }));
  const last = model.data.last[line.stored_at[0]];
  if (last) made.append(el('p', { class: 'last' }, last, ' ', allVisits(app, line)));
  unseen.toggleAttribute('inert', !model.data.me.observes);
  set.toggleAttribute('inert', !model.data.me.measures);
  return made;
}

/* The scale that a value is read with; a score can be taken from it. Pain may name a published scale beside its word. */
function sheets(app, line, send) {
  const { model } = app, key = line.value in model.walk.scales ? line.value : model.walk.sheets[line.structure], of = place(line);
  const made = [scaleButton(model, key, { of, chosen: () => model.shown(line.key)?.value ?? '', choose: line.value === key && send ? send : null })];
  if (line.value === 'pain-4') {
    const keep = text => app.sync.add(model.make(line.key, 'note', { text: [model.notes.get(line.stored_at[0]), text].filter(Boolean).join('; ') }));
    const more = button('A published pain scale', () => openTotal(model, model.walk.ways.find(w => w.kind === 'total' && w.scales.includes('nrs-10')).scales, { keep }), 'button-plain scale-open');
    more.setAttribute('aria-haspopup', 'dialog');
    more.toggleAttribute('disabled', !model.data.me.observes);
    made.push(more);
  }
  return made.filter(Boolean);
}

/* ---- What stands on each line ---- */

/* One structure over all visits, one tap away. */
const allVisits = (app, line) => el('a', { class: 'text-link', href: app.data.urls.history.replace('STRUCTURE', encodeURIComponent(line.structure)) }, 'all visits', el('span', { class: 'vh' }, ` of ${line.name}`));

export function redraw(app, code) {
  const root = document.getElementById(code), { model } = app;
  if (!$('.lines', root)) return;
  for (const made of $$('.choice[data-key]', root)) {
    const line = model.lines.get(made.dataset.key), stands = standsOn(model, line);
    if (made.stands === stands && made.picked === pickedIn(made)) continue; /* a tap redraws what it changed */
    (made.classList.contains('choice-measured') ? sayMeasured : sayChoice)(model, made, line);
    Object.assign(made, { stands, picked: pickedIn(made) });
  }
  for (const made of $$('.choice[data-group]', root)) {
    const stands = [JSON.stringify(model.awakeLog), ...model.at(made.dataset.group).map(line => standsOn(model, line))].join('\n');
    if (made.stands === stands && made.picked === pickedIn(made)) continue;
    if (made.dataset.group === TEETH) redrawTeeth(app, made); else sayGroup(model, made);
    Object.assign(made, { stands, picked: pickedIn(made) });
  }
  flags(app, root, code);
  app.talk.drawAt(root, code);
  prompts(app, root, code);
  suggestions(app, root, code);
  app.lumps.draw(root, code);
  app.photos.drawLines(root);
}
/* All that the row of a line shows of it, as one text to compare; kept until something of it changes. How urgent a
   finding is hangs on the whole exam, so that a line with one is read anew. */
function standsOn(model, line) {
  if (model.shown(line.key)?.findings?.length) return standsAnew(model, line);
  const kept = model.reckoned.stands, { me } = model.data, before = kept.get(line.key);
  if (before?.me === me && before.staff === me.staff && before.role === me.role) return before.text;
  const text = standsAnew(model, line);
  kept.set(line.key, { me, staff: me.staff, role: me.role, text });
  return text;
}
function standsAnew(model, line) {
  const answer = model.shown(line.key), { me } = model.data;
  return JSON.stringify([answer, model.whyAbsent(line), model.notes.get(line.stored_at[0]), model.server.people[answer?.person], model.server.people[answer?.observed_by], me.staff, me.role,
    (answer?.findings ?? []).map(f => model.walk.findings[f.code] && urgencyOf(model, f, line).letter)]);
}
const pickedIn = made => $('input:checked', made)?.value ?? '';
function absent(model, made, line) {
  const why = model.whyAbsent(line);
  made.toggleAttribute('data-absent', Boolean(why));
  $('.choice-set, .measure-set', made).hidden = Boolean(why);
  if (why) { made.removeAttribute('data-valued'); tell(made, `not applicable: ${why}`, 'na'); }
  thereIsOne(model, made, line);
  return Boolean(why);
}
function tell(made, words, kind) {
  const said = $('.said', made);
  said.hidden = !words;
  said.className = `said small ${kind === 'abnormal' ? 'is-look' : 'is-unseen'}`;
  said.replaceChildren(...(kind === 'na' ? [el('span', { class: 'mark' }, shape('na', true), el('span', {}, words))] : [words]));
}
function sayChoice(model, made, line) {
  if (absent(model, made, line)) return;
  const answer = model.shown(line.key), status = answer?.status;
  for (const input of $$('.choice-set input', made)) input.checked = input.value === status;
  made.dataset.state = status ?? 'new';
  for (const [value, , kind, mark] of CHOICES) { const label = $(`.pick-${kind}`, made); if (label) reshape(label, answer?.in_part && value === status ? 'part' : mark); }
  const found = (answer?.findings ?? []).length, note = model.notes.get(line.stored_at[0]);
  const words = answer && (status !== 'normal' || found || answer.in_part) ? say(model, answer).replace(/^not examined, /, '') : '';
  const drum = line.structure === 'EAR.tympanum' && answer && (status !== 'normal' || answer.in_part) ? 'Not seen whole: no drops into this ear without a clinician’s own answer.' : '';
  const who = answer?.observed_by && answer.observed_by !== answer.person ? `seen by ${model.server.people[answer.observed_by] ?? ''}` : '';
  sayNode(model, made, line);
  const urgent = (answer?.findings ?? []).some(f => model.walk.findings[f.code] && urgencyOf(model, f, line).letter === 'E');
  made.toggleAttribute('data-emergency', urgent);
  tell(made, [words, note && `note: ${note}`, who, urgent && 'emergency'].filter(Boolean).join('; ') + (drum ? `${words ? '. ' : ''}${drum}` : ''), model.isAbnormal(answer) ? 'abnormal' : 'unseen');
}
function sayGroup(model, made) {
  const structure = made.dataset.group, lines = model.at(structure), states = lines.filter(line => !model.whyAbsent(line)).map(line => [line, model.shown(line.key)]);
  const bad = states.filter(([, a]) => model.isAbnormal(a)), open = states.filter(([, a]) => !a).length, unseen = states.filter(([, a]) => a?.status === 'not-examined');
  const status = bad.length ? 'abnormal' : open ? '' : unseen.length === states.length ? 'not-examined' : 'normal';
  for (const input of $$('.choice-set input', made)) input.checked = input.value === status;
  $('.pick-normal > span', made).textContent = open && open < states.length ? `The other ${open} normal` : `All ${states.length} normal`;
  for (const chip of $$('[data-chip]', made)) {
    const answer = model.shown(chip.dataset.chip), gone = model.whyAbsent(model.lines.get(chip.dataset.chip));
    reshape(chip, gone ? 'na' : model.isAbnormal(answer) ? 'abnormal' : { normal: 'normal', 'not-examined': 'unseen' }[answer?.status] ?? 'new');
    chip.dataset.state = gone ? 'na' : model.isAbnormal(answer) ? 'abnormal' : answer?.status ?? 'new';
    chip.disabled = Boolean(gone);
  }
  if (bad.length || unseen.length) $('.chips', made).hidden = false;
  tell(made, [...bad.map(([line, a]) => `${line.side_words}: ${say(model, a)}`), unseen.length && unseen.length < states.length ? `${many(unseen.length, 'place')} not examined` : unseen.length ? say(model, unseen[0][1]).replace(/^not examined, /, '') : ''].filter(Boolean).join('; '), bad.length ? 'abnormal' : 'unseen');
}
function sayMeasured(model, made, line) {
  if (absent(model, made, line)) return;
  const answer = model.shown(line.key), now = $('.measure-now', made), valued = answer?.status === 'measured';
  made.dataset.state = !answer ? 'new' : model.isAbnormal(answer) ? 'abnormal' : answer.status;
  made.toggleAttribute('data-valued', valued);
  if (valued) delete made.dataset.again;
  for (const input of $$('input[type=radio]', made)) input.checked = input.value === 'not-examined' ? answer?.status === 'not-examined' : valued && answer.value === input.value;
  now.replaceChildren();
  if (valued) {
    const high = answer.flag === 'high' || answer.flag === 'low';
    const mark = answer.waits ? ['waiting', 'is-unseen', 'not judged yet'] : high ? [answer.flag, 'is-look', answer.flag] : answer.flag === 'inside' ? ['normal', 'is-normal', 'in range'] : model.isAbnormal(answer) ? ['abnormal', 'is-look', ''] : null;
    const found = (answer.findings ?? []).map(f => lower(model.walk.findings[f.code]?.name ?? f.code)).join(', ');
    now.append(el('b', {}, valueWords(model, answer)), mark ? el('span', { class: `mark small ${mark[1]}` }, shape(mark[0]), el('span', {}, [mark[2], model.isAbnormal(answer) && found].filter(Boolean).join(', '))) : '',
      el('small', {}, [model.server.people[answer.person], answer.made_at && clock(answer.made_at)].filter(Boolean).join(', ')));
  }
  const note = model.notes.get(line.stored_at[0]);
  tell(made, [answer?.status === 'not-examined' ? say(model, answer).replace(/^not examined, /, '') : '', note && `note: ${note}`].filter(Boolean).join('; '), 'unseen');
}
