/* Who has which station open on another tablet. Said when the station changes and every few seconds; whoever is
   silent for 20 s is gone (exams/presence.py). Nothing of it is kept, and none of it waits for the network. */

import { $, $$, el } from './dom.js';

const SPEAK = 8000, SETTLE = 400;

export class Here {
  constructor(app) {
    Object.assign(this, { app, others: [], told: '' });
    addEventListener('others-here', event => this.take(event.detail));
    addEventListener('pagehide', () => this.send({ leave: '1' }));
    document.addEventListener('visibilitychange', () => this.send(document.hidden ? { leave: '1' } : { station: this.at() }));
    setInterval(() => { if (!document.hidden) this.send({ station: this.at() }); }, SPEAK);
    this.moved();
  }

  at() { return $('.station[open]')?.id ?? ''; }
  /* Walking through several stations at once says only where one stays. */
  moved() {
    clearTimeout(this.soon);
    this.soon = setTimeout(() => this.send({ station: this.at() }), SETTLE);
    this.draw();
  }

  async send(words) {
    try {
      const { urls } = this.app.data;
      if (!this.app.sync.token) {
        if (words.leave) return;
        this.app.sync.token = (await (await fetch(urls.token, { headers: { Accept: 'application/json' } })).json()).token ?? '';
      }
      const answer = await fetch(urls.here, { method: 'POST', body: new URLSearchParams(words), keepalive: true, headers: { Accept: 'application/json', 'X-CSRFToken': this.app.sync.token } });
      if (answer.status === 403) this.app.sync.token = ''; /* a token of a session that ended: asked anew the next time */
      if (answer.ok && !words.leave) this.take((await answer.json()).here);
    } catch { /* without a network nobody knows; the corner says so already */ }
  }

  /* From a header of the look at how the exam stands, or from the answer to our own word. */
  take(told) {
    const others = typeof told === 'string' ? JSON.parse(decodeURIComponent(told)) : told;
    if (!Array.isArray(others)) return;
    this.others = others;
    this.draw();
  }

  draw() {
    const here = new Map(), own = this.at();
    for (const { station, name } of this.others) here.set(station, [...new Set([...(here.get(station) ?? []), name])]);
    for (const old of $$('.rail-here, .station-here')) old.remove();
    for (const [code, names] of here) {
      const rail = $(`[data-rail="${code}"]`), summary = $('summary', document.getElementById(code) ?? undefined);
      if (!code || !rail || !summary) continue;
      rail.append(el('span', { class: 'rail-here' }, el('span', { 'aria-hidden': 'true' }, initials(names[0]) + (names.length > 1 ? ` +${names.length - 1}` : '')), el('span', { class: 'vh' }, `, ${sentence(names)}`)));
      $('h2', summary).append(el('span', { class: 'station-here small' }, sentence(names)));
    }
    const beside = sentence(here.get(own) ?? []);
    if (own && beside && this.told !== own + beside) this.app.say(`${beside} with you.`); /* once, not at every look */
    this.told = own + beside;
  }
}
const sentence = names => (names.length ? `${names.join(' and ')} ${names.length > 1 ? 'are' : 'is'} here` : '');
const initials = name => name.replace(/^(Dr|Prof)\.? /, '').split(/\s+/).map(word => word[0]).join('').slice(0, 2).toUpperCase();
