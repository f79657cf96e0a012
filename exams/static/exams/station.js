/* One station: its lines, built when it is first opened, and what stands on each. */

import { $, $$, button, el, lower, many, pick, plainName, reshape, shape } from './dom.js';
import { say, sideLabel, unitWords } from './words.js';

const CHOICES = [['normal', 'Normal', 'normal', 'normal'], ['abnormal', 'Abnormal', 'abnormal', 'abnormal'], ['not-examined', 'Not examined', 'unseen', 'unseen']];
const SCORES = {
  'bcs-9': [...'123456789'].map(n => [n, n]),
  'mcs-4': ['normal', 'mild', 'moderate', 'severe'].map(w => [w, w]),
  'pain-4': ['none', 'mild', 'moderate', 'severe'].map(w => [w, w]),
  s: [['under-1', 'under 1 s'], ['1-2', '1 to 2 s'], ['over-2-to-3', 'over 2 to 3 s'], ['over-3', 'over 3 s']],
};
const ASKED_WITH = { mmHg: { 'blood-pressure': ['cuff', 'site', 'device', 'readings'], iop: ['device'] } };

export function build(app, code) {
  const root = document.getElementById(code);
  if ($('.lines', root)) return;
  const { model } = app, station = model.stations.get(code);
  const means = button('what normal means', () => means.setAttribute('aria-pressed', String(root.classList.toggle('show-means'))), 'button-plain');
  means.setAttribute('aria-pressed', 'false');
  $('.station-how', root).append(means);
  root.append(el('div', { class: 'flags' }));
  const structures = new Map();
  for (const line of station.lines) structures.set(line.structure, [...(structures.get(line.structure) ?? []), line]);
  const paired = [...structures.values()].some(lines => lines.some(line => line.side === 'left'));
  const rows = [...structures.values()].sort((a, b) => Number(a[0].structure.endsWith('.*')) - Number(b[0].structure.endsWith('.*'))).map(lines => row(app, lines));
  root.append(el('div', { class: 'lines' }, paired ? el('div', { class: 'lines-head', 'aria-hidden': 'true' }, el('span'), el('span', {}, 'Left'), el('span', {}, 'Right')) : null, el('ul', {}, ...rows)));
  root.append(app.foot.build(code));
  const watch = new IntersectionObserver(entries => {
    let news = false;
    for (const entry of entries) if (entry.isIntersecting) { app.seen.add(entry.target.dataset.structure); watch.unobserve(entry.target); news = true; }
    if (news) app.foot.refresh(code);
  }, { threshold: 0.6 });
  rows.filter(li => !li.dataset.structure.endsWith('.*')).forEach(li => watch.observe(li));
}

function row(app, lines) {
  const { model } = app, first = lines[0], [plain, aside] = [plainName(first.name), first.name.match(/\((.*)\)/)?.[1]];
  const whole = first.structure.endsWith('.*');
  const name = el('div', { class: 'line-name' }, el('span', {}, whole ? 'Of the whole station' : plain),
    aside && !whole ? el('small', {}, aside) : null, first.depth === 'indication' ? el('small', { class: 'depth' }, 'on indication') : null,
    el('span', { class: 'line-means' }, [first.normal_means, first.how_to_check].filter(Boolean).join(' ')));
  const li = el('li', { class: 'line', data: { structure: first.structure } }, name);
  if (lines.length > 4) li.append(group(app, lines));
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
    click: () => { if (value !== 'normal' && app.panels.key !== line.key) app.panels.open(line.key, value === 'abnormal' ? 'abnormal' : 'unseen'); } })));
  const made = el('fieldset', { class: `choice ${column(line.side) ? '' : 'choice-one'} ${of > 2 ? 'choice-four' : ''} ${whole ? 'choice-whole' : ''}`, data: { key: line.key, column: column(line.side) } },
    el('legend', {}, el('span', { class: 'choice-of' }, `${line.name}${line.side === '-' ? '' : ', '}`), el('span', { class: 'choice-side' }, sideLabel(line))), set, el('p', { class: 'said small', hidden: true }));
  const last = model.data.last[line.stored_at[0]];
  if (last) made.append(el('p', { class: 'last' }, last));
  set.toggleAttribute('inert', !model.data.me.observes);
  return made;
}

/* Many of one kind (teeth, milk glands): normal or not examined together, abnormal one by one. */
function group(app, lines) {
  const { model } = app, structure = lines[0].structure, id = structure.replace(/\W/g, '_');
  const set = el('div', { class: 'choice-set' },
    pick({ kind: 'normal', name: id, value: 'normal', words: `All ${lines.length} normal`, mark: 'normal', click: () => app.groupNormal(lines) }),
    pick({ kind: 'abnormal', name: id, value: 'abnormal', words: 'Abnormal: which?', mark: 'abnormal', click: () => $('.chips', made).toggleAttribute('hidden', false) }),
    pick({ kind: 'unseen', name: id, value: 'not-examined', words: 'Not examined', mark: 'unseen', click: () => $('.group-why', made).toggleAttribute('hidden', false) }));
  const chips = el('div', { class: `chips chips-${structure === 'MTH.teeth' ? 'teeth' : 'glands'}`, hidden: true, role: 'group', 'aria-label': 'Which?' }, ...chipRows(lines).map(chips => el('div', { class: 'chip-row' }, ...chips.map(line => {
    const chip = button('', () => { if (!model.shown(line.key)) app.choose(line, 'abnormal'); app.panels.open(line.key, model.shown(line.key)?.status === 'not-examined' ? 'unseen' : 'abnormal'); }, 'chip');
    chip.dataset.chip = line.key;
    chip.append(shape('new'), /^\d+$/.test(line.side) ? line.side : line.side.split('-').map((p, i) => (i ? p : p === 'left' ? 'L' : 'R')).join(' '));
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
function chipRows(lines) {
  if (!/^\d+$/.test(lines[0].side)) return ['left', 'right'].map(s => lines.filter(line => line.side.startsWith(s)));
  const quadrant = digits => lines.filter(line => digits.includes(line.side[0]));
  return [[...quadrant('15').sort((a, b) => b.side - a.side)], [...quadrant('26').sort((a, b) => a.side - b.side)], [...quadrant('48').sort((a, b) => b.side - a.side)], [...quadrant('37').sort((a, b) => a.side - b.side)]].filter(row => row.length);
}

/* A measured line: no Normal. The value decides; without one there is a field, or a reason. */
function measured(app, line) {
  const { model } = app, kind = model.data.measures[line.stored_at[0]] ?? '', scores = SCORES[line.value];
  const made = el('fieldset', { class: `choice choice-measured ${column(line.side) ? '' : 'choice-one'}`, data: { key: line.key, column: column(line.side) } },
    el('legend', {}, el('span', { class: 'choice-of' }, `${line.name}${line.side === '-' ? '' : ', '}`), el('span', { class: 'choice-side' }, sideLabel(line))));
  const set = el('div', { class: 'measure-set' }, el('p', { class: 'measure-now' }));
  const details = {};
  const send = (value, more = {}) => {
    app.wrong(line.key, '');
    made.dataset.typed = value;
    app.sync.add(model.make(line.key, 'measure', { value, unit: line.value, details, ...more }));
  };
  made.again = () => send(made.dataset.typed, { looked_twice: true });
  if (scores) set.append(el('div', { class: 'picks measure-in' }, ...scores.map(([value, words]) => pick({ kind: 'act', name: `${line.key}-value`, value, words, mark: 'normal', click: () => send(value) }))));
  else {
    const input = el('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'aria-label': `${line.name}${line.side === '-' ? '' : `, ${sideLabel(line)}`}, ${unitWords(line.value)}` });
    input.addEventListener('change', () => { if (input.value.trim()) send(input.value.trim()); });
    const wants = ASKED_WITH[line.value]?.[kind.replace(/-(left|right)$/, '')] ?? [];
    set.append(...wants.map(name => {
      const field = el('input', { type: 'text', autocomplete: 'off' });
      field.addEventListener('change', () => { details[name] = field.value.trim(); });
      return el('label', { class: 'measure-in measure-how' }, el('span', {}, name), field);
    }), el('label', { class: 'measure-in' }, el('span', { class: 'vh' }, 'value'), input, el('span', {}, unitWords(line.value))));
  }
  const unseen = pick({ kind: 'unseen', name: `${line.key}-value`, value: 'not-examined', words: 'Not examined', mark: 'unseen', change: () => app.choose(line, 'not-examined'), click: () => { if (app.panels.key !== line.key) app.panels.open(line.key, 'unseen'); } });
  const again = button('measure again', () => { made.dataset.again = ''; $('.measure-in input', made).focus(); }, 'button-plain');
  set.append(unseen, again);
  made.append(set, el('p', { class: 'said small', hidden: true }), el('p', { class: 'field-error small', role: 'status' }));
  const last = model.data.last[line.stored_at[0]];
  if (last) made.append(el('p', { class: 'last' }, last));
  unseen.toggleAttribute('inert', !model.data.me.observes);
  set.toggleAttribute('inert', !model.data.me.measures);
  return made;
}

/* ---- What stands on each line ---- */

export function redraw(app, code) {
  const root = document.getElementById(code), { model } = app;
  if (!$('.lines', root)) return;
  for (const made of $$('.choice[data-key]', root)) (made.classList.contains('choice-measured') ? sayMeasured : sayChoice)(model, made, model.lines.get(made.dataset.key));
  for (const made of $$('.choice[data-group]', root)) sayGroup(model, made);
  flags(app, root, code);
}
function absent(model, made, line) {
  const why = model.whyAbsent(line);
  made.toggleAttribute('data-absent', Boolean(why));
  $('.choice-set, .measure-set', made).hidden = Boolean(why);
  if (why) { made.removeAttribute('data-valued'); tell(made, `not applicable: ${why}`, 'na'); }
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
  tell(made, [words, note && `note: ${note}`, who].filter(Boolean).join('; ') + (drum ? `${words ? '. ' : ''}${drum}` : ''), model.isAbnormal(answer) ? 'abnormal' : 'unseen');
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
    const high = answer.flag === 'high' || answer.flag === 'low', scored = (SCORES[line.value] ?? []).find(([value]) => value === answer.value);
    const mark = answer.waits ? ['waiting', 'is-unseen', 'not judged yet'] : high ? [answer.flag, 'is-look', answer.flag] : answer.flag === 'inside' ? ['normal', 'is-normal', 'inside'] : null;
    const found = (answer.findings ?? []).map(f => lower(model.walk.findings[f.code]?.name ?? f.code)).join(', ');
    now.append(el('b', {}, scored && line.value === 's' ? scored[1] : `${answer.value} ${unitWords(answer.unit)}`), mark ? el('span', { class: `mark small ${mark[1]}` }, shape(mark[0]), el('span', {}, [mark[2], model.isAbnormal(answer) && found].filter(Boolean).join(', '))) : '',
      el('small', {}, [model.server.people[answer.person], answer.made_at && new Date(answer.made_at).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' })].filter(Boolean).join(', ')));
  }
  tell(made, answer?.status === 'not-examined' ? say(model, answer).replace(/^not examined, /, '') : '', 'unseen');
}

/* ---- Heads-ups at their station ---- */

function flags(app, root, code) {
  const box = $('.flags', root), { model } = app;
  const here = [...model.headsUps.values()].filter(h => h.station === code);
  const state = JSON.stringify(here.map(h => [h.id, h.answer, h.reason]));
  if (box.dataset.shows === state) return;
  box.dataset.shows = state;
  box.replaceChildren(...here.map(h => {
    const time = new Date(h.at).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' });
    const why = el('input', { type: 'text', autocomplete: 'off', maxlength: 200 });
    const field = el('label', { class: 'field flag-why', hidden: h.answer !== 'not-today' }, el('span', {}, 'Not today, because'), why);
    why.value = h.reason;
    const answer = (value, words = '') => app.sync.add(model.make(h.id, 'answer_heads_up', { answer: value, words }));
    why.addEventListener('change', () => { if (why.value.trim()) answer('not-today', why.value.trim()); });
    const picks = [['found', 'found', 'found it, recorded below', 'abnormal'], ['looked', 'nothing', 'looked, found nothing', 'normal'], ['not-today', 'not-today', 'not today', 'unseen']].map(([kept, sent, words, mark]) => pick({
      name: `flag-${h.id}`, words, mark, checked: h.answer === kept, change: () => { if (sent === 'not-today') { field.hidden = false; why.focus(); } else answer(sent); } }));
    const made = el('div', { class: 'notice notice-look headsup' }, shape('flag'), el('div', {}, el('p', { class: 'small' }, `Heads-up from ${h.by}, ${time}${h.side ? `, ${h.side}` : ''}`), el('blockquote', {}, h.words)),
      el('fieldset', { class: 'picks' }, el('legend', { class: 'vh' }, 'Your answer to this heads-up'), ...picks, field));
    if (h.answer) made.dataset.answered = '';
    $('fieldset', made).disabled = !model.data.me.answers;
    return made;
  }));
}
