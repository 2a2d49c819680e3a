/** The door for Standard MIDI Files: bytes in, tracks of events out. Both the pattern and a take's markers may be one. */
import { parseMidi, type MidiData } from 'midi-file';
import { InputProblem } from './problem.ts';

/** An event may take two bytes and becomes an object of a hundred; an hour at fifty notes a second is 1.5 MB. */
export const maxMidiBytes = 4 * 2 ** 20;

/** Four bytes of seven bits are the most that the format has for a time or a length. */
const maxVariable = 0x0fffffff;

/** @throws InputProblem where the bytes are too many, no Standard MIDI File, or one that is cut off */
export function readMidi(file: string, bytes: Uint8Array, mend: string): MidiData {
  const problem = (what: string) => new InputProblem(file, '', what, mend);
  if (bytes.length > maxMidiBytes) throw problem('the file is longer than 4 MiB');
  if (String.fromCharCode(...bytes.subarray(0, 4)) !== 'MThd') throw problem(noMidi);
  if (!isWhole(bytes)) throw problem('the file is cut off');
  let midi: MidiData;
  try {
    midi = parseMidi(new ForwardOnly(bytes));
  } catch {
    // The library throws texts, and whatever comes of reading past a broken length: all mean the same to a person.
    throw problem(noMidi);
  }
  const backwards = midi.tracks.some((track) =>
    track.some(({ deltaTime }) => !(deltaTime >= 0 && deltaTime <= maxVariable)),
  );
  if (backwards) throw problem('it has an event at no time');
  return midi;
}

const noMidi = 'this is not a Standard MIDI File';

/** A length that lies may be negative to the library, which then goes back and reads the same for ever. */
class ForwardOnly extends Uint8Array {
  override slice(start = 0, end = this.length): this {
    if (end < start) throw new RangeError('a length is negative');
    return super.slice(start, end) as this;
  }
}

/** Whether header and tracks are all there; the library reads a chunk that is cut short as if it were whole. */
function isWhole(bytes: Uint8Array): boolean {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.length < 14) return false;
  const chunks = 1 + view.getUint16(10);
  let end = 0;
  for (let chunk = 0; chunk < chunks && end <= bytes.length; chunk++) {
    if (end + 8 > bytes.length) return false;
    end += 8 + view.getUint32(end + 4);
  }
  return end <= bytes.length;
}
