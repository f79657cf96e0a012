/* Awake, sedated or anaesthetised, and with what: said of the exam, from that moment on. What was seen before
   keeps the state it was seen in. */

import { $, el, reshape, upper, write } from './dom.js';

const MARKS = { awake: 'normal', sedated: 'part', anaesthetised: 'begun' };

export class Awake {
  constructor(app) {
    this.app = app;
    this.dialog = $('#awake-dialog');
    this.form = $('#awake-form');
    $('#awake-change').addEventListener('click', () => this.open());
    this.form.addEventListener('change', event => { if (event.target.name === 'awake') this.ask(); });
    this.form.addEventListener('submit', event => this.submit(event));
  }

  open(wanted = '') {
    const { awake, awakeLog } = this.app.model, now = awakeLog.at(-1);
    this.form.elements.awake.value = wanted || awake || 'awake';
    this.form.elements.by_what.value = now?.by_what ?? '';
    $('#awake-error').textContent = '';
    $('#awake-log').replaceChildren(...awakeLog.map(each => el('li', {}, `${clock(each.at)} ${[each.state, each.by_what].filter(Boolean).join(', ')}`)));
    this.ask();
    this.dialog.showModal();
  }
  ask() { $('#awake-with').hidden = this.form.elements.awake.value === 'awake'; }

  submit(event) {
    if (event.submitter?.value !== 'save') return;
    const awake = this.form.elements.awake.value, by_what = awake === 'awake' ? '' : this.form.elements.by_what.value.trim();
    if (awake !== 'awake' && !by_what) {
      event.preventDefault();
      $('#awake-error').textContent = 'Say with what.';
      this.form.elements.by_what.focus();
      return;
    }
    this.app.sync.add(this.app.model.make('exam', 'set_awake', { awake, by_what }));
    this.app.say(`${upper(awake)}. What is recorded from now on says so.`);
    this.app.panels.redraw?.();
  }

  refresh() {
    const { awakeLog } = this.app.model, now = awakeLog.at(-1), place = $('#awake-words');
    write(place, now ? `${upper(now.state)}${now.by_what ? `: ${now.by_what}` : ''}, since ${clock(now.at)}` : 'Awake');
    reshape($('#awake-now'), MARKS[now?.state ?? 'awake']);
    $('#awake-now').dataset.state = now?.state ?? 'awake';
    $('#awake-change').hidden = !this.app.data.me.observes;
  }
}
const clock = at => (at ? at.slice(11, 16) : '');
