/* A picture from the camera, made small on the tablet: upright, and without whatever else the file said. */

const LONGEST = 2000, QUALITY = 0.85;

/* Answers {blob, width, height}, a JPEG. Throws an Error whose message is for the person who chose the file. */
export async function shrink(file, longest = LONGEST) {
  let bitmap;
  try { bitmap = await createImageBitmap(file, { imageOrientation: 'from-image' }); } catch {
    throw new Error('This file is not a picture that this tablet can read. Nothing else was changed.');
  }
  const part = Math.min(1, longest / Math.max(bitmap.width, bitmap.height));
  const canvas = document.createElement('canvas');
  canvas.width = Math.max(1, Math.round(bitmap.width * part));
  canvas.height = Math.max(1, Math.round(bitmap.height * part));
  const pen = canvas.getContext('2d', { alpha: false });
  if (pen) {
    pen.fillStyle = '#fff';
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.imageSmoothingQuality = 'high';
    pen.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  }
  bitmap.close();
  const blob = pen && await new Promise(yes => { canvas.toBlob(yes, 'image/jpeg', QUALITY); });
  const made = { blob, width: canvas.width, height: canvas.height };
  canvas.width = canvas.height = 0; /* tablets give a page little room for canvases */
  if (!blob) throw new Error('This tablet has no room to work on the picture. Close other pages and take it again.');
  return made;
}
