/**
 * Chapters in the ID3v2 tag before an MP3's sound: frames "CHAP" (ID3v2 Chapter Frame Addendum 1.0), each with a name of
 * its own, start and end in ms, two places in bytes, and frames within, of which "TIT2" is its title (ID3v2.3 and 2.4).
 */
import { viewOf } from '../audio/chunks.ts';
import { afterId3, sevenBitSize } from '../audio/id3.ts';
import { labelOf, unreadable, type MarkerReader, type RawMarker } from './marker-reader.ts';

const headBytes = 10;
/** Pictures make tags of a few megabytes. */
const maxTagBytes = 16 * 2 ** 20;

export const id3Chapters: MarkerReader = {
  what: 'MP3 chapters',
  recognises: (_, head) =>
    String.fromCharCode(...head.subarray(0, 3)) === 'ID3' && (head[3] === 3 || head[3] === 4),
  async read(file) {
    const head = await file.read(0, headBytes);
    if (head.length < headBytes) return null;
    const version = head[3];
    const tag = await file.read(headBytes, Math.min(headBytes + maxTagBytes, afterId3(head)));
    const chapters = framesIn(tag, version).filter(({ name }) => name === 'CHAP');
    if (chapters.length === 0) return null;
    const markers: RawMarker[] = [];
    const notices = chapters.flatMap(({ body }, i) => {
      const place = `chapter ${i + 1}`;
      const from = body.indexOf(0) + 1;
      if (from === 0 || from + 16 > body.length) return [unreadable(file.name, place, 'it is cut off')];
      const [startMs, endMs] = [0, 4].map((at) => viewOf(body).getUint32(from + at));
      const title = framesIn(body.subarray(from + 16), version).find(({ name }) => name === 'TIT2');
      const label = title === undefined ? '' : textOfFrame(title.body);
      markers.push({ timeS: startMs / 1000, endS: endMs > startMs ? endMs / 1000 : null, label, place });
      return [];
    });
    return { markers, notices };
  },
};

/** Name, size (in version 4 of seven bits a byte), flags, body; those cut off and what follows them are left out. */
function framesIn(bytes: Uint8Array, version: number): { name: string; body: Uint8Array }[] {
  const frames = [];
  const view = viewOf(bytes);
  for (let at = 0; at + headBytes <= bytes.length;) {
    const name = String.fromCharCode(...bytes.subarray(at, at + 4));
    const size = version === 4 ? sevenBitSize(bytes, at + 4) : view.getUint32(at + 4);
    const end = at + headBytes + size;
    if (!/^[A-Z][A-Z0-9]{3}$/.test(name) || end > bytes.length) break;
    frames.push({ name, body: bytes.subarray(at + headBytes, end) });
    at = end;
  }
  return frames;
}

/** The first byte names the coding: 0 Latin-1, 1 UTF-16 with its mark, 2 UTF-16BE without, 3 UTF-8. */
function textOfFrame(body: Uint8Array): string {
  const text = body.subarray(1);
  if (body[0] === 1 || body[0] === 2) {
    const coding = body[0] === 2 || (text[0] === 0xfe && text[1] === 0xff) ? 'utf-16be' : 'utf-16le';
    return new TextDecoder(coding)
      .decode(text)
      .replace(/\0[^]*$/, '')
      .trim();
  }
  return labelOf(text);
}
