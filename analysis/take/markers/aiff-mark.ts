/**
 * AIFF `MARK` (Audio Interchange File Format 1.3, 1989): a count, then for each marker its id (2 bytes), its position
 * in sample frames (4 bytes) and its name, a counted string padded so that count and text are even together.
 */
import { bodyOf, readForm } from '../audio/chunks.ts';
import {
  labelOf,
  maxMarkers,
  refuseTooMany,
  unreadable,
  type MarkerReader,
  type RawMarker,
} from './marker-reader.ts';

/** A marker's longest form: id, position, count and 255 letters. */
const maxMarkBytes = 2 + maxMarkers * 262;

export const aiffMarks: MarkerReader = {
  what: 'AIFF markers',
  recognises: (_, head) => /^FORM....AIF[FC]/s.test(String.fromCharCode(...head.subarray(0, 12))),
  async read(file, audio) {
    const form = await readForm(file);
    const chunk = form?.chunks.find(({ id }) => id === 'MARK');
    if (!form || !chunk || !audio) return null;
    const body = await bodyOf(file, chunk, maxMarkBytes);
    const said = body.byteLength >= 2 ? body.getUint16(0) : 0;
    refuseTooMany(file.name, said);
    const markers: RawMarker[] = [];
    let at = 2;
    while (markers.length < said && at + 7 <= body.byteLength) {
      const letters = body.getUint8(at + 6);
      const name = new Uint8Array(
        body.buffer,
        body.byteOffset + at + 7,
        Math.min(letters, body.byteLength - at - 7),
      );
      const timeS = body.getUint32(at + 2) / audio.sampleRate;
      markers.push({ timeS, endS: null, label: labelOf(name), place: `marker ${markers.length + 1}` });
      at += 7 + letters + ((1 + letters) % 2);
    }
    const cut = unreadable(file.name, `marker ${markers.length + 1}`, 'the list of markers is cut off here');
    return { markers, notices: markers.length < said ? [cut] : [] };
  },
};
