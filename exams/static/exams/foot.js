/* At most two taps a station: the routine lines are normal; the rest was not needed.
   The first fills routine lines only, once every line was on screen; the second stands in the same place. */

import { $, button, el, lower, many, plainName, upper, write } from './dom.js';

const APART = 600; /* ms: a double tap must not answer the second question */

export class Foot {
  constructor(app) { this.app = app; this.filled = -APART; }
  get model() { return this.app.model; }

  build(code) {
    const main = button('All of these are normal', () => this.tap(code), 'button-main');
    const why = el('fieldset', { class: 'picks', hidden: true }, el('legend', { class: 'vh' }, 'Why are the rest not examined?'), ...this.app.reasons().map(r => button(r.words, () => this.rest(code, r.key))));
    const next = button('', () => this.app.openNext(code));
    next.dataset.do = 'next';
    main.dataset.do = 'fill';
    return el('div', { class: 'station-foot' }, main, el('p'), next, why);
  }

  parts(code) {
    const open = this.model.stations.get(code).lines.filter(line => !line.structure.endsWith('.*') && this.model.isOpen(line));
    const unseen = new Set(this.model.stations.get(code).lines.filter(line => !line.structure.endsWith('.*') && !this.app.seen.has(line.structure)).map(line => line.structure)).size;
    const lumped = line => line.structure === 'SKN.lumps' && this.app.lumps.fresh().length; /* one is on the map: its size answers the line */
    const fillable = line => line.depth === 'routine' && !line.stored_at.some(k => this.model.answers.has(k)) && !lumped(line);
    const was = line => line.stored_at.some(k => this.model.data.was.includes(k)); /* abnormal last time: looked at by itself */
    return { open, unseen, routine: open.filter(line => fillable(line) && !was(line)), was: open.filter(line => fillable(line) && was(line)), rest: open.filter(line => line.depth === 'indication' && line.asked !== 'every'), bare: open.filter(line => line.depth === 'measured' && line.asked === 'every'), tests: open.filter(line => (line.depth === 'indication' && line.asked === 'every') || lumped(line)), more: open.filter(line => line.depth === 'measured' && line.asked !== 'every') };
  }

  refresh(code) {
    const foot = $(`#${code} .station-foot`);
    if (!foot) return;
    const { open, unseen, routine, was, rest, bare, more, tests } = this.parts(code), main = $('[data-do=fill]', foot), why = $('fieldset', foot);
    const flagged = this.model.openFlags(code).length, fewer = [...rest, ...more], stage = routine.length ? 'normal' : fewer.length ? 'rest' : '';
    const any = this.model.stations.get(code).lines.filter(line => line.depth === 'routine' && !this.model.whyAbsent(line)).length;
    const quick = this.app.reasons().some(r => r.key === 'not-needed');
    main.hidden = !stage || !this.model.data.me.observes;
    main.dataset.stage = stage;
    write(main, stage === 'rest' ? (quick ? 'The rest: not examined, not needed today' : 'The rest: not examined, because…') : routine.length === any ? 'All of these are normal' : 'The other routine lines are normal');
    main.setAttribute('aria-disabled', String(unseen > 0 || flagged > 0));
    const names = lines => [...new Set(lines.map(line => lower(plainName(line.name))))].join(', ');
    /* a test that the clinic made part of every exam: no tap for many lines says that it was done */
    const needs = [bare.length && `Needs a value: ${names(bare)}. `, tests.length && `Needs its own answer: ${names(tests)}. `, was.length && `Not normal last time, so it needs its own answer: ${names(was)}. `].filter(Boolean).join('');
    const words = !open.length ? (this.model.digest(code).together ? 'Marked together; the record says so.' : 'Every line has an answer.')
      : unseen ? `Offered once every line has been on screen: ${unseen} to go.`
        : flagged ? 'Offered once the heads-up above is answered.'
          : stage === 'normal' ? `Fills ${many(routine.length, 'routine answer')}; the record says they were marked together. ${needs}${fewer.length ? `Stays open: ${names(fewer)}.` : ''}`
            : stage === 'rest' ? `${upper(names(fewer))}. ${needs}Or ` : needs || 'Some lines wait for the other side.';
    /* to leave the rest out is no further away than to call it normal */
    const other = this.model.data.me.observes && (stage === 'normal' || (stage === 'rest' && !unseen && !flagged && quick));
    if ($('p', foot).shows !== `${stage}${words}${other}`) {
      $('p', foot).shows = `${stage}${words}${other}`;
      $('p', foot).replaceChildren(words, ...(other ? [stage === 'rest' ? '' : ' ', button(stage === 'rest' ? 'another reason' : 'or not examined, because…', () => { why.hidden = !why.hidden; if (!why.hidden) $('button', why).focus(); }, 'button-plain')] : []));
      why.hidden = true;
    }
    const next = this.app.nextOf(code);
    write($('[data-do=next]', foot), next ? `Go on: ${lower(this.model.stations.get(next).short)}` : 'Go on: before you sign');
  }

  tap(code) {
    const main = $(`#${code} [data-do=fill]`);
    if (main.getAttribute('aria-disabled') === 'true' || performance.now() - this.filled < APART) return;
    if (main.dataset.stage === 'normal') this.normal(code);
    else if (this.app.reasons().some(r => r.key === 'not-needed')) this.rest(code, 'not-needed');
    else { const why = $(`#${code} .station-foot fieldset`); why.hidden = false; $('button', why).focus(); }
  }
  normal(code) {
    this.filled = performance.now();
    const { routine } = this.parts(code);
    this.app.sync.add(this.model.make(code, 'station_all_normal', { lines: routine.map(line => line.key) }));
    this.app.say(`${many(routine.length, 'line')} normal, marked together.`);
    this.done(code);
  }
  /* Before the routine lines are filled: all that is open, these too. */
  rest(code, reason) {
    const all = $(`#${code} [data-do=fill]`).dataset.stage === 'normal', { open, rest, more } = this.parts(code), lines = all ? open : [...rest, ...more];
    this.filled = performance.now();
    this.app.sync.add(this.model.make(code, 'station_rest_not_examined', { reason, lines: lines.map(line => line.key), ...(all ? { all: true } : {}) }));
    this.app.say(`${many(lines.length, 'line')} not examined.`);
    this.done(code);
  }
  done(code) {
    this.app.panels.close();
    const { open } = this.parts(code);
    if (!open.length) this.app.openNext(code);
  }
}
