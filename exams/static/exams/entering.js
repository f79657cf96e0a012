/* Entering for: whoever taps may write down what somebody else sees and says. The choice is kept on this tablet for
   this person until it is changed, and stands on the page as long as it holds. */

import { $, el } from './dom.js';

const KEPT = 'tailward-enters-for';

export class Entering {
  constructor(app) {
    this.app = app;
    this.select = $('#entering select');
    this.select.addEventListener('change', () => this.choose(this.select.value));
    document.addEventListener('handed-over', () => this.set(''));
    this.read();
  }
  get me() { return this.app.data.me; }

  /* Somebody else works here now: who, the page learns a moment after the hand-over. */
  look() { if (this.of !== this.me.staff) this.read(); }

  /* Another person on this tablet enters for themselves until they say otherwise. */
  read() {
    const others = this.app.data.clinicians.filter(c => c.staff !== this.me.staff);
    this.of = this.me.staff;
    let kept = '';
    try { kept = localStorage.getItem(`${KEPT}:${this.me.staff}`) ?? ''; } catch { /* a browser that keeps nothing */ }
    this.select.replaceChildren(el('option', { value: '' }, 'myself'), ...others.map(c => el('option', { value: c.staff }, c.name)));
    $('#entering').hidden = !this.me.observes && !this.me.measures;
    this.set(others.some(c => c.staff === kept) ? kept : '');
  }
  choose(staff) {
    try { if (staff) localStorage.setItem(`${KEPT}:${this.me.staff}`, staff); else localStorage.removeItem(`${KEPT}:${this.me.staff}`); } catch { /* as above */ }
    this.set(staff);
    const name = this.select.selectedOptions[0].textContent;
    this.app.say(staff ? `You enter for ${name}, who confirms at signing.` : 'You enter what you see yourself.');
  }
  set(staff) {
    this.select.value = staff;
    this.app.model.observer = staff;
    $('#entering').dataset.for = staff ? 'other' : '';
  }
}
