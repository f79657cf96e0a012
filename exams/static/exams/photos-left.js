/* On a signed exam: photographs of it that are still on this tablet. None is taken in any more, and none is
   thrown away unseen: somebody keeps each as a file, or discards it. */

import { done, openKept, within } from '../clinic/kept.js';
import { sendPhoto, tokenFor } from '../clinic/photo-send.js';
import { button, el, shape } from './dom.js';

const box = document.getElementById('photos-left'), visit = Number(box.dataset.visit);
const db = await openKept().catch(() => null);
const rows = db ? await done(db.transaction('photos').objectStore('photos').index('visit').getAll(visit)) : [];
const drop = photo => within(db, ['photos'], photos => { photos.delete(photo.n); });

for (const photo of rows) {
  let words = photo.refused ?? 'It could not be sent yet.';
  try { /* one that arrived before the signature, unheard, is answered as before */
    const token = await tokenFor(photo), answer = token ? await sendPhoto(photo, token) : { became: 'signed-out' };
    if (answer.became === 'arrived') { await drop(photo); continue; }
    words = answer.words ?? words;
  } catch { /* no network: it stays */ }
  show(photo, words);
}

function show(photo, words) {
  const url = URL.createObjectURL(photo.blob), took = `${new Date(photo.taken_at).toLocaleString([], { dateStyle: 'medium', timeStyle: 'short' })}, by ${photo.by}`;
  const line = el('div', { class: 'notice notice-look photo-left' }, shape('flag'),
    el('div', {}, el('p', {}, el('b', {}, 'A photograph of this exam is on this tablet only.'), ` ${words}`), el('img', { src: url, alt: `Photograph, ${took}`, width: photo.width, height: photo.height }), el('p', { class: 'small' }, took)),
    el('div', { class: 'picks' }, el('a', { class: 'button', href: url, download: `photograph-${photo.taken_at.slice(0, 10)}.jpg` }, 'Keep it as a file'), button('Discard it', async () => { await drop(photo); line.remove(); document.dispatchEvent(new CustomEvent('look-again')); }, 'button-danger')));
  box.append(line);
}
