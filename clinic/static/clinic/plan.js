/* The plan page works without this file; with it the sentence grows while the parts are typed. */

const WAIT = 250;
const form = document.querySelector('form[data-directions]');

/* Only what belongs to the chosen standing is shown; without this file everything is. */
for (const part of document.querySelectorAll('[data-only-for], [data-not-for]')) {
  const owner = part.closest('form');
  const show = () => {
    const standing = owner.querySelector('[name="standing"]:checked')?.value;
    const wrong = part.querySelector('.field-wrong') !== null;
    part.hidden = !wrong && (part.dataset.onlyFor ? part.dataset.onlyFor !== standing : part.dataset.notFor === standing);
  };
  owner.addEventListener('change', show);
  show();
}

/* What is typed and not sent is asked about before another form or page takes its place. */
let typed = false;
for (const kept of document.querySelectorAll('form[data-keeps]')) {
  kept.addEventListener('input', () => { typed = true; });
}
document.addEventListener('submit', () => { typed = false; });
window.addEventListener('beforeunload', event => { if (typed) event.preventDefault(); });

if (form) {
  const { elements } = form;
  const composed = document.getElementById('composed');
  const correct = document.getElementById('correct');
  const words = elements.own_words;
  let timer = 0;
  let turn = 0;

  const compose = async () => {
    const mine = ++turn;
    const parts = new URLSearchParams(new FormData(form));
    for (const name of ['csrfmiddlewaretoken', 'once', 'own_words', 'corrected_from']) parts.delete(name);
    try {
      const answer = await fetch(`${form.dataset.directions}?${parts}`);
      if (!answer.ok || mine !== turn) return;
      const told = await answer.json();
      composed.textContent = told.sentence;
      document.getElementById('composed-notes').replaceChildren(...told.notes.map(words => {
        const line = document.createElement('li');
        line.textContent = words;
        return line;
      }));
      correct.hidden = composed.textContent === '';
    } catch {
      composed.textContent = 'No network: the sentence is composed when the medicine is recorded.';
      correct.hidden = true;
    }
  };

  const sided = form.querySelector('[data-sided]');
  const sides = () => {
    const needed = ['into the ear', 'into the eye'].includes(elements.route.value);
    sided.hidden = !needed;
    if (!needed) elements.side.value = '';
  };

  /* A medicine of the clinic's list brings what stands on its label; the dose is never among it. */
  const listed = () => {
    const name = elements.name.value.trim().toLowerCase();
    const found = [...document.querySelectorAll('#medicines option')].find(each => each.value.toLowerCase() === name);
    if (!found) return;
    elements.ingredients.value = found.dataset.ingredients;
    elements.strength.value = found.dataset.strength;
    if (!elements.route.value) elements.route.value = found.dataset.route;
    sides();
  };

  elements.name.addEventListener('change', listed);
  form.addEventListener('change', sides);
  form.addEventListener('input', event => {
    if (event.target === words) return;
    clearTimeout(timer);
    timer = setTimeout(compose, WAIT);
  });
  form.addEventListener('change', () => { clearTimeout(timer); timer = setTimeout(compose, WAIT); });

  /* What is corrected remembers what it was written over; when the parts change, it is asked about. */
  correct.addEventListener('click', () => {
    words.value = composed.textContent;
    elements.corrected_from.value = composed.textContent;
    words.focus();
  });

  sides();
  compose();
}
