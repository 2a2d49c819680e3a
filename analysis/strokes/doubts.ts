/**
 * Why a group's mean and interval cannot be relied on although its strokes agree: what is off as a whole has several
 * readings, sectors may be mistaken for one another, or the reference is not the channel it is taken for.
 */
import { sectorOf } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import { besideWrongBoundary } from './boundary.ts';
import type { Strokes } from './strokes.ts';
import { placesApartMs } from './two-places.ts';
import { disagreement } from './unpinned.ts';

/**
 * @param sector index; null: the whole channel
 * @returns a fragment of a sentence that says why; null where nothing is in doubt
 */
export function doubtOf(
  strokes: Strokes,
  machine: Machine,
  channel: number,
  sector: number | null,
): string | null {
  const { rotation, sitsAt, whole, perhapsTune } = strokes;
  const { description, reference, pins } = machine;
  if (!rotation.found) return null;
  if (sitsAt[channel] !== channel) return 'its sounds sit at another channel’s pins';
  if (channel === reference) return null;
  if (perhapsTune !== undefined)
    return `the take may be of ${[perhapsTune.other.tune, ...perhapsTune.orElse].join(' or ')}`;
  if (disagreement(strokes, machine) !== null) return 'pattern and take do not agree on most strokes';
  const nameOf = (c: number) => description.channels[c].id;
  if (sitsAt[reference] !== reference)
    return `the sounds of the reference, ${nameOf(reference)}, sit at another channel’s pins`;
  if (whole.some((off) => off.channel === reference))
    return `all channels lie off the reference, ${nameOf(reference)}, alike, and the hits cannot tell which of the two is a step off`;
  if (whole.some((off) => off.channel === channel))
    return 'all its pins lie off alike: late or early by so much, or a step off';
  const { onBarrel } = description.channels[channel];
  const inSector = (s: number | null) =>
    pins.some((pin) => pin.channel === channel && sectorOf(description, pin.step) === s);
  const off = whole.find(
    (one) =>
      one.channel === null && onBarrel && (sector === null ? inSector(one.sector) : one.sector === sector),
  );
  if (off && off.sector !== null)
    return `all pins of sector ${description.barrel.sectors[off.sector].id} lie off alike: late or early by so much, or a step off`;
  if (sector !== null && onBarrel && besideWrongBoundary(strokes, machine, sector))
    return 'the boundary of its sector seems to be entered wrongly';
  if (sector !== null && onBarrel && mayBeAnotherSector(strokes)) return 'which sector is which is a guess';
  if (placesApartMs(strokes, machine, channel, sector) !== null)
    return 'its pins lie at two places far apart: a swing, to be entered in the pattern if it is meant, or some sit a part of a step off';
  const swing = swingInStepOf(strokes, machine);
  if (swing !== null) return `${swing}: pins of the reference between those would tell`;
  return null;
}

/** Whether the take fits the pattern as well from another start, and nothing says which is right. */
export function mayBeAnotherSector({ rotation }: Strokes): boolean {
  return rotation.found && rotation.settledBy === 'unsettled' && rotation.rivals.length > 0;
}

/** A swing of the drive that cannot be told from lateness; null where there is none. */
export function swingInStepOf({ rotation }: Strokes, { description, reference }: Machine): string | null {
  if (!rotation.swingInStep) return null;
  const beats = (rotation.swingInStep / description.barrel.stepsPerBeat).toFixed(1);
  return `the drive swings once in ${beats} beats, and the strokes of the reference, ${description.channels[reference].id}, always meet it at about the same place`;
}
