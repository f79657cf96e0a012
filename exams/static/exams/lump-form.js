/* The form of one lump: its size, how it looks and feels, a sample of it, or why it was not measured. */

import { $, button, el, pick, picksOf, write } from './dom.js';
import { LUMP } from './lump-model.js';
import { photoStrip } from './photos.js';

const HOME = 'SKN', AXES = ['Length', 'Width', 'Height'];

export class LumpForm {
  constructor(lumps) { this.lumps = lumps; }
  get app() { return this.lumps.app; }

  body(id, today, known) {
    const { looks: words, methods } = this.app.data.lumps;
    const draft = { axes: today?.axes_mm ?? [], method: today?.method || known?.last?.method || 'caliper', looks: { ...today?.looks }, ...this.lumps.drafts[id] };
    const inputs = AXES.map((name, i) => el('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'aria-label': `${name} of ${this.lumps.name(id)}, mm`, data: { keep: `axis-${i}` } }));
    inputs.forEach((input, i) => { input.value = draft.axes[i] ?? ''; input.placeholder = AXES[i].toLowerCase(); });
    const keeps = event => {
      draft.axes = inputs.map(input => input.value.trim());
      const li = event.target.closest('.lump');
      this.lumps.hold(id, String(draft.axes.filter(Boolean)) === String(today?.axes_mm ?? []) && draft.method === (today?.method || draft.method) ? null : draft);
      li.dataset.shows = this.lumps.stateOf(id, true);
      write($('.lump-unkept', li), this.lumps.typed(id));
      this.app.refresh();
    };
    const measure = more => {
      const typed = inputs.map(input => input.value.trim().replace(',', '.')).filter(Boolean), axes = typed.map(Number);
      if (axes.length < 2) { this.lumps.wrong(id, 'Two axes at least, in millimetres: the longest first.'); return; }
      if (axes.some(a => !(a >= 1 && a <= 600))) { this.lumps.wrong(id, 'Each axis is 1 to 600 mm.'); return; }
      if (axes.some(a => a > 200) && !more?.looked_twice) { this.lumps.wrong(id, 'Longer than a hand: is that millimetres? ', button('Yes, I looked twice', () => measure({ looked_twice: true }), 'button-plain')); return; }
      this.lumps.open.add(id);
      this.lumps.send(id, 'lump_measure', { axes, method: draft.method, looks: plainLooks(draft.looks), ...more });
    };
    for (const input of inputs) input.addEventListener('input', keeps);
    for (const input of inputs) input.addEventListener('keydown', event => { if (event.key === 'Enter') { event.preventDefault(); measure(); } });
    const size = el('div', { class: 'lump-size' },
      el('div', { class: 'lump-axes' }, ...inputs.flatMap((input, i) => [i ? el('span', { 'aria-hidden': 'true' }, '×') : null, input]), el('span', {}, 'mm')),
      picksOf('Measured by', methods.map(value => pick({ name: `by-${id}`, words: value, mark: 'normal', checked: draft.method === value, change: (on, input) => { draft.method = value; keeps({ target: input }); } }))),
      button(today?.said === 'measured' ? 'Keep this size' : 'Keep size', () => measure(), 'button-main'));
    const parts = [size];
    if (today?.said === 'measured') parts.push(this.looks(id, draft, words, measure), this.sample(id, today), photoStrip(this.app, LUMP + id, this.lumps.name(id)));
    parts.push(this.otherwise(id, today, known));
    return el('div', { class: 'lump-body' }, ...parts);
  }
  looks(id, draft, words, measure) {
    const titles = { shape: 'Shape', firmness: 'Firmness', mobility: 'Moves', attachment: 'Attached to', surface: 'Surface', colour: 'Colour', pain: 'Pain or heat', change: 'Since last time', bothers: 'Bothers the animal', node: 'Lymph node it drains to' };
    const rows = Object.entries(words).map(([name, values]) => {
      const several = name === 'surface', said = new Set((draft.looks[name] ?? '').split(', ').filter(Boolean));
      return el('div', { class: 'lump-look' }, el('span', { class: 'small', 'aria-hidden': 'true' }, titles[name]), picksOf(titles[name], values.map(value => {
        const made = pick({ type: 'checkbox', words: value, mark: 'abnormal', kind: 'abnormal', checked: said.has(value), change: on => {
          if (!several) said.clear();
          if (on) said.add(value); else said.delete(value);
          draft.looks[name] = [...said].join(', ');
          measure();
        } });
        $('input', made).dataset.keep = `${name}-${value}`;
        return made;
      })));
    });
    const note = el('input', { type: 'text', autocomplete: 'off', maxlength: 300, data: { keep: 'note' } });
    note.value = draft.looks.note ?? '';
    note.addEventListener('change', () => { draft.looks.note = note.value.trim(); measure(); });
    const made = el('details', { class: 'lump-looks' }, el('summary', {}, 'How it looks and feels', el('span', { class: 'quiet' }, lookWords(draft.looks))), ...rows, el('label', { class: 'field' }, el('span', {}, 'Note'), note));
    made.open = this.showing === id;
    made.addEventListener('toggle', () => { this.showing = made.open ? id : this.showing === id ? '' : this.showing; });
    return made;
  }
  sample(id, today) {
    const { samples } = this.app.data.lumps;
    return el('div', { class: 'lump-look' }, el('span', { class: 'small', 'aria-hidden': 'true' }, 'Sample taken today'), picksOf('Sample taken today', [['', 'none'], ['needle', samples.needle], ['biopsy', samples.biopsy]].map(([value, words]) => {
      const made = pick({ name: `sample-${id}`, words, mark: 'normal', checked: (today.sample ?? '') === value, change: () => this.lumps.send(id, 'lump_sample', { method: value }) });
      $('input', made).dataset.keep = `sample-${value}`;
      return made;
    })));
  }
  otherwise(id, today, known) {
    const ask = el('div', { class: 'lump-why' }), shows = (...parts) => { ask.replaceChildren(...parts); $('input, button', ask)?.focus(); };
    const row = el('div', { class: 'row lump-else' });
    if (known) row.append(
      button('Gone', () => shows(this.askGone(id))),
      button('Not looked at, because…', () => shows(this.askWhy(id))));
    if (this.lumps.here().filter(other => other !== id).length) row.append(button('Grown together with…', () => shows(el('div', { class: 'picks', role: 'group', 'aria-label': 'With which?' }, ...this.lumps.here().filter(other => other !== id).map(other => button(`${this.lumps.name(other)}, ${this.lumps.place(other)}`, () => { this.lumps.open.delete(id); this.lumps.send(id, 'lump_merge', { into: other }); }))))));
    row.append(button('Put its place right', () => { this.app.open(HOME, 'nearest'); this.lumps.openMap(id); }, 'button-plain'));
    return el('div', {}, row, ask);
  }
  askGone(id) {
    const words = el('input', { type: 'text', autocomplete: 'off', maxlength: 100 }), sent = pick({ type: 'checkbox', words: 'sent in to be looked at', mark: 'normal' });
    const gone = (how, histology = false) => { this.lumps.open.delete(id); this.lumps.send(id, 'lump_gone', { how, words: words.value.trim(), histology }); };
    return el('div', { class: 'lump-gone' }, el('label', { class: 'field' }, el('span', {}, 'When, by whom, if known'), words), sent, el('div', { class: 'row' },
      button('Not felt any more', () => gone('not-felt')), button('Removed by surgery', () => gone('removed', $('input', sent).checked))));
  }
  askWhy(id) {
    const words = el('input', { type: 'text', autocomplete: 'off', maxlength: 200 }), say = payload => { this.lumps.open.delete(id); this.lumps.send(id, 'lump_not_looked', payload); };
    words.addEventListener('change', () => { if (words.value.trim()) say({ reason: 'other', words: words.value.trim() }); });
    return el('div', {}, el('div', { class: 'picks', role: 'group', 'aria-label': `Why was ${this.lumps.name(id)} not looked at?` }, ...this.app.reasons().map(r => button(r.words, () => say({ reason: r.key, words: '' })))), el('label', { class: 'field' }, el('span', {}, 'Or in your own words'), words));
  }
}

const lookWords = looks => { const said = ['shape', 'firmness', 'mobility', 'surface', 'pain'].map(name => looks[name] && (name === 'pain' ? `pain ${looks[name]}` : looks[name])).filter(Boolean).join(', '); return said ? ` ${said}` : ''; };
const plainLooks = looks => Object.fromEntries(Object.entries(looks).filter(([, said]) => said).map(([name, said]) => [name, name === 'surface' ? said.split(', ') : said]));
