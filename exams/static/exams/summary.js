/* The exam in short, at the end of the walk: asked for when it comes into sight, and again when something was saved.
   The server reckons it (exams/changes.py); without a network the page says that it is not up to date. */

import { $, el } from './dom.js';

const SETTLE = 900;

export class InShort {
  constructor(app) {
    Object.assign(this, { app, seen: false, of: '' });
    this.box = $('#in-short');
    new IntersectionObserver(([entry]) => { this.seen = entry.isIntersecting; this.look(); }).observe(this.box);
  }

  /* Nothing is asked while taps wait: what it would say is about to change. */
  look() {
    const { model } = this.app;
    if (!this.seen || this.of === model.server.pulse || model.pending.length) return;
    clearTimeout(this.soon);
    this.soon = setTimeout(() => this.ask(model.server.pulse), SETTLE);
  }

  async ask(pulse) {
    try {
      const answer = await fetch(`${this.app.data.urls.summary}?part=1`);
      if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
      const told = new DOMParser().parseFromString(await answer.text(), 'text/html');
      $('.in-short-body', this.box).replaceChildren(...told.body.childNodes);
      this.of = pulse;
    } catch {
      $('.in-short-body', this.box).replaceChildren(el('p', { class: 'quiet' }, 'What changed since last time needs the network. It is shown when it is back.'));
      this.of = '';
    }
  }
}
