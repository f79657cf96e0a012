/* "Take as target" writes a method's answer into the target; the form then recounts itself. */

document.addEventListener('click', event => {
  const button = event.target.closest('[data-target]');
  if (!button) return;
  const target = document.getElementById('target_weight');
  target.value = button.dataset.target;
  const lose = document.querySelector('input[name="aim"][value="lose"]');
  if (lose) lose.checked = true;
  target.dispatchEvent(new Event('change', { bubbles: true }));
  target.focus();
});
