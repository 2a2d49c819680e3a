/**
 * The pattern as a Standard MIDI File: each note-on is a pin, at the step of its tick (a quarter note is a beat, so it
 * has `stepsPerBeat` steps; between them where the tick is), for the channel that `notes` in machine.jsonc gives its number. Tracks are laid over one
 * another; MIDI channels, lengths, loudness and tempo say nothing about pins.
 */
import type { MidiData } from 'midi-file';
import type { ProblemAt } from '../input/jsonc.ts';
import { readMidi } from '../input/midi.ts';
import { InputProblem } from '../input/problem.ts';
import type { Pin } from './machine.ts';
import { stepParts } from './pattern-csv.ts';
import type { MachineDescription } from './schema.ts';

/** @throws InputProblem with the tick, or at a path of machine.jsonc where `notes` is at fault */
export function readMidiPattern(
  file: string,
  bytes: Uint8Array,
  { barrel, channels, notes }: MachineDescription,
  machineProblem: ProblemAt,
): Pin[] {
  if (!notes) {
    const mend = `add "notes": { "36": "${channels[0].id}" } with a line for every note`;
    throw machineProblem(['notes'], '"notes" is missing, which a MIDI pattern needs', mend);
  }
  const { tracks, ticksPerBeat } = parse(file, bytes);
  const taken = new Set<string>();
  const pins = notesOf(tracks).map(({ tick, note }): Pin => {
    const problem = (what: string, mend: string) => new InputProblem(file, `tick ${tick}`, what, mend);
    const id = notes[String(note)];
    if (id === undefined) {
      throw problem(`note ${note} has no channel`, `add it to "notes" in machine.jsonc, or remove the note`);
    }
    const step = stepAt(tick, ticksPerBeat, barrel.stepsPerBeat);
    if (step >= barrel.steps) {
      const what = `note ${note} is at step ${step}, but one turn ends with step ${barrel.steps - 1}`;
      throw problem(
        what,
        'keep one turn in the file, or correct "steps" and "stepsPerBeat" in machine.jsonc',
      );
    }
    if (taken.has(`${step} ${id}`)) throw problem(`"${id}" has a pin at step ${step} already`, 'remove one');
    taken.add(`${step} ${id}`);
    return { step, channel: channels.findIndex((channel) => channel.id === id), line: null };
  });
  if (pins.length === 0)
    throw new InputProblem(file, '', 'there are no notes in it', 'export the pattern again');
  return pins;
}

/** Swing, triplets and flams lie between the steps, and stay there. */
function stepAt(tick: number, ticksPerBeat: number, stepsPerBeat: number): number {
  const place = (tick * stepsPerBeat) / ticksPerBeat;
  const step = Math.round(place);
  // Where a step is not a whole number of ticks, the file can only hold the tick nearest to it.
  if (Math.abs((step * ticksPerBeat) / stepsPerBeat - tick) <= 0.5) return step;
  return Math.round(place * stepParts) / stepParts;
}

function notesOf(tracks: MidiData['tracks']): { tick: number; note: number }[] {
  const notes = tracks.flatMap((track) => {
    let tick = 0;
    return track.flatMap((event) => {
      tick += event.deltaTime;
      return event.type === 'noteOn' ? [{ tick, note: event.noteNumber }] : [];
    });
  });
  return notes.sort((a, b) => a.tick - b.tick || a.note - b.note);
}

function parse(file: string, bytes: Uint8Array): { tracks: MidiData['tracks']; ticksPerBeat: number } {
  const mend = 'export the pattern again';
  const { header, tracks } = readMidi(file, bytes, mend);
  const problem = (what: string) => new InputProblem(file, '', what, mend);
  if (header.format === 2) throw problem('its tracks are separate pieces (format 2), not one pattern');
  if (!header.ticksPerBeat) throw problem('its time is in frames, not in parts of a quarter note');
  return { tracks, ticksPerBeat: header.ticksPerBeat };
}
