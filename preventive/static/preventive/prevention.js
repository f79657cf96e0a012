/* Three vaccines in eight taps: the vial in hand is the first that has a lot and no place; a tap on the drawing
   gives it one. Without this file the same is done with the lists. */

const form = document.getElementById('give-form');
if (form) {
  const places = document.getElementById('places');
  const vials = [...form.querySelectorAll('[data-vial]')];
  const spots = [...places.querySelectorAll('[data-site]')];
  const ask = document.getElementById('site-ask');
  const record = document.getElementById('record');
  const words = ['what was given', 'one dose', 'two doses', 'three doses', 'four doses', 'five doses'];
  const lot = vial => vial.querySelector('[name^="lot-"]:checked')?.value;
  const place = vial => vial.querySelector('[name^="site-"]');
  const number = vial => vial.querySelector('.vial-no').textContent;
  places.hidden = false;

  function show() {
    const given = vials.filter(lot);
    const hand = given.find(vial => place(vial) && !place(vial).value);
    for (const vial of vials) {
      vial.toggleAttribute('data-in-hand', vial === hand);
      const none = vial.querySelector('[data-none]');
      if (none) none.hidden = !lot(vial);
    }
    for (const spot of spots) {
      const here = given.filter(vial => place(vial)?.value === spot.dataset.site);
      const option = hand && [...place(hand).options].find(each => each.value === spot.dataset.site);
      const published = Boolean(option?.text.includes('published'));
      spot.setAttribute('aria-pressed', String(here.length > 0));
      spot.toggleAttribute('data-published', published);
      spot.querySelector('b').textContent = here.map(number).join('+') || (published ? '★' : '');
    }
    ask.textContent = hand ? `${number(hand)}: ${hand.querySelector('b').textContent}, where? Touch the drawing.`
      : given.length ? 'All have a place.' : 'First a lot, then its place: touch the drawing.';
    record.textContent = `Record ${words[given.length] ?? `${given.length} doses`}`;
  }
  form.addEventListener('change', show);
  for (const spot of spots) spot.addEventListener('click', () => {
    const given = vials.filter(lot);
    const hand = given.find(vial => place(vial) && !place(vial).value);
    const there = given.find(vial => place(vial)?.value === spot.dataset.site);
    if (hand) place(hand).value = spot.dataset.site;
    else if (there) place(there).value = '';
    show();
  });
  show();
}

/* Reasons that fit the answer: those of the owner for a no, those of the day for not today. */
for (const put of document.querySelectorAll('.put-off form')) {
  const fit = () => {
    const how = put.querySelector('[name="how"]:checked')?.value;
    put.querySelector('[data-why]').hidden = !how; /* its reasons follow from the answer above */
    for (const pick of put.querySelectorAll('[data-for]')) {
      pick.hidden = how !== pick.dataset.for;
      if (pick.hidden) pick.querySelector('input').checked = false;
    }
  };
  put.addEventListener('change', fit);
  fit();
}
