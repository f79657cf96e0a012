/* One tap for the whole exam: every line that can move. Without it each is chosen by itself. */

const all = document.querySelector('#choose-all'), boxes = [...document.querySelectorAll('.moves input')];
if (all && boxes.length > 1) {
  const words = () => { all.textContent = boxes.every(box => box.checked) ? 'Choose nothing' : `Choose all ${boxes.length}`; };
  all.hidden = false;
  words();
  all.addEventListener('click', () => { const on = !boxes.every(box => box.checked); for (const box of boxes) box.checked = on; words(); });
  for (const box of boxes) box.addEventListener('change', words);
}
