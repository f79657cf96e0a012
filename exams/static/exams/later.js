/* What the first screen does without. It is fetched while the page is idle, or by the tap that asks for it first.
   The service worker keeps all of it too, so that it is there without a network. Who wants a part asks `app.later`:
   a module that imported this one's parts and was imported by them could not be named by its content. */

const WAIT = 1_500; /* ms, where a browser cannot say that it is idle */

export class Later {
  /* ways: by name, a function that fetches the part and resolves to it. */
  constructor(ways) { Object.assign(this, { ways, coming: new Map(), arrived: new Map() }); }

  /* The part when it is here, so that what needs it is drawn at once. */
  part(name) { return this.arrived.get(name); }

  /* Rejects when it could not be fetched; whoever asks next tries again. */
  fetch(name) {
    if (!this.coming.has(name)) {
      const asked = this.ways[name]().then(part => { this.arrived.set(name, part); return part; });
      this.coming.set(name, asked);
      asked.catch(() => this.coming.delete(name));
    }
    return this.coming.get(name);
  }

  /* One after the other, so that no tap waits behind them. What does not arrive now is asked for by its tap. */
  whenIdle() {
    const names = Object.keys(this.ways);
    const idle = next => (window.requestIdleCallback ? requestIdleCallback(next, { timeout: 10 * WAIT }) : setTimeout(next, WAIT));
    const one = () => { const name = names.shift(); if (name) this.fetch(name).catch(() => {}).then(() => idle(one)); };
    if (document.readyState === 'complete') idle(one);
    else addEventListener('load', () => idle(one), { once: true });
  }
}

/* The text of a drawing. */
export async function art(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return answer.text();
}
