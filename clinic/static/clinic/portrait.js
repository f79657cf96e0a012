/* The patient's picture: shrunk on the tablet and sent as soon as it is taken. Without this the form has a button. */

import { shrink } from './shrink.js';

const form = document.querySelector('[data-portrait]');
if (form) {
  const [input, said] = [form.querySelector('input[type=file]'), form.querySelector('[role=status]')];
  form.querySelector('[data-send]').hidden = true;
  input.addEventListener('change', async () => {
    const [file] = input.files;
    if (!file) return;
    said.textContent = 'Making it smaller…';
    try {
      const { blob } = await shrink(file, 1000), small = new DataTransfer();
      small.items.add(new File([blob], 'picture.jpg', { type: blob.type }));
      input.files = small.files;
      said.textContent = 'Sending it…';
      form.requestSubmit();
    } catch (error) {
      input.value = '';
      said.textContent = error.message;
    }
  });
}
