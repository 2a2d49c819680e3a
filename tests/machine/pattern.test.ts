import { readFileSync } from 'node:fs';
import { writeMidi, type MidiEvent } from 'midi-file';
import { describe, expect, it } from 'vitest';
import type { Pin } from '../../analysis/machine/machine.ts';
import { readPattern } from '../../analysis/machine/pattern.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { smallDescription } from './machine.ts';

const description = machineSchema.parse({
  ...smallDescription,
  channels: [
    { id: 'clap', onBarrel: false },
    { id: 'bell', name: 'Glöckchen, small' },
    { id: 'drum', name: 'Drum' },
    { id: 'drum-2', name: 'Drum' },
  ],
  notes: { 36: 'clap', 40: 'bell' },
});
const inMachine = (path: readonly (string | number)[], what: string, mend: string) =>
  new InputProblem('machine.jsonc', path.join('.'), what, mend);
const utf8 = (text: string) => new TextEncoder().encode(text);
const csv = (text: string | Uint8Array) =>
  readPattern('pattern.csv', typeof text === 'string' ? utf8(text) : text, description, inMachine);

function messageOf(action: () => unknown): string {
  try {
    action();
  } catch (error) {
    expect(error).toBeInstanceOf(InputProblem);
    return (error as InputProblem).message;
  }
  return 'nothing wrong';
}

describe('pattern.csv', () => {
  const pins = (...rows: [step: number, channel: number, line: number][]): Pin[] =>
    rows.map(([step, channel, line]) => ({ step, channel, line }));
  it('gives pins by step, then channel, each with its line', () =>
    expect(csv('step,channel\n7,bell\n0,bell\n0,clap\n')).toEqual(pins([0, 0, 4], [0, 1, 3], [7, 1, 2])));
  it.each([
    ['CRLF', 'step,channel\r\n3,bell\r\n'],
    ['CR alone', 'step,channel\r3,bell\r'],
    ['no line end at the end', 'step,channel\n3,bell'],
    ['a byte order mark', '\uFEFFstep,channel\n3,bell\n'],
    ['semicolons', 'step;channel\n3;bell\n'],
    ['tabs', 'step\tchannel\n3\tbell\n'],
    ['quotes and blanks', '"step","channel"\n 3 ,bell \n'],
    ['columns in another order, and more of them', 'Channel,note,STEP\nbell,"loud, dry",3\n'],
    ['a name with a comma', 'step,channel\n3,"Glöckchen, small"\n'],
    ['rows of empty cells', 'step,channel\n3,bell\n,\n ,\n'],
  ])('with %s', (_, text) => expect(csv(text)).toEqual(pins([3, 1, 2])));
  it('with comments and blank lines, which keep their numbers', () =>
    expect(csv('# the "old" barrel\n\nstep,channel\n\n  # "worn, re-seat\n3,bell\n')).toEqual(
      pins([3, 1, 6]),
    ));
  it('with a quoted cell over two lines, which keeps the numbers too', () =>
    expect(csv('step,channel,note\n3,bell,"worn,\nre-seat"\n4,bell,\n')).toEqual(pins([3, 1, 2], [4, 1, 4])));
  it('in UTF-16 and in the Western European code page', () => {
    const text = '\uFEFFstep;channel\r\n3;Glöckchen, small\r\n';
    const wide = new Uint8Array(Uint16Array.from(text, (letter) => letter.charCodeAt(0)).buffer);
    expect(csv(wide)).toEqual(pins([3, 1, 2]));
    expect(csv(Uint8Array.from(text.slice(1), (letter) => letter.charCodeAt(0)))).toEqual(pins([3, 1, 2]));
  });

  it.each([
    ['', 'the file is empty; write "step,channel", then a pin a line'],
    ['\n# nothing yet\n', 'the file is empty; write "step,channel", then a pin a line'],
    ['step,channel\n', 'line 1: no pins follow the header; write a pin a line'],
    [
      '3,bell\n',
      'line 1: the header has no column "step" and no column "channel"; make the first line "step,channel"',
    ],
    ['step,chan\n3,bell\n', 'line 1: the header has no column "channel"; make the first line "step,channel"'],
    ['step,channel\n\n3,bel\n', 'line 3: there is no channel "bel"; write "bell"'],
    [
      'step,channel\n3,tuba\n',
      'line 2: there is no channel "tuba"; use one of "clap", "bell", "drum", "drum-2", "Glöckchen, small", "Drum", "Drum"',
    ],
    ['step,channel\n3,Drum\n', 'line 2: several channels are called "Drum"; write the id instead'],
    ['step,channel\n3\n', 'line 2: the channel is missing; use one of "clap", "bell", "drum", "drum-2"'],
    ['step,channel\n,bell\n', 'line 2: the step is missing; write one from 0 to 11'],
    [
      'step,channel\n3.x,bell\n',
      'line 2: step "3.x" is not a number; write one from 0 to 11, or between them such as 4.5 or 5 1/3',
    ],
    ['step,channel\n11.99999,bell\n', 'line 2: step 11.99999 is not on the barrel; steps run from 0 to 11'],
    [
      'step,channel,offset ms\n3,bell,late\n',
      'line 2: offset "late" is not a number; write ms, such as 8 or -3.5, or leave it empty',
    ],
    [
      'step,channel,offset ms\n3,bell,-62.5\n',
      'line 2: an offset of -62.5 ms is beyond ±40 ms; give the pin a decimal step instead, such as 4.5',
    ],
    [
      'step,channel\nthree,bell\n',
      'line 2: step "three" is not a number; write one from 0 to 11, or between them such as 4.5 or 5 1/3',
    ],
    ['step,channel\n12,bell\n', 'line 2: step 12 is not on the barrel; steps run from 0 to 11'],
    ['step,channel\n-1,bell\n', 'line 2: step -1 is not on the barrel; steps run from 0 to 11'],
    [
      'step,channel\n3,bell\n# again\n3,"Glöckchen, small"\n',
      'line 4: "bell" has a pin at step 3 already, in line 2; remove one of the two, or give it a decimal step such as 4.25',
    ],
  ])('%j is refused', (text, message) => expect(messageOf(() => csv(text))).toBe(`pattern.csv: ${message}`));
});

describe('a MIDI pattern', () => {
  /** 480 ticks a quarter note; the machine has 2 steps a beat, so a step is 240 ticks. */
  const on = (deltaTime: number, noteNumber: number): MidiEvent => ({
    type: 'noteOn',
    deltaTime,
    noteNumber,
    velocity: 90,
    channel: 0,
  });
  const off = (deltaTime: number, noteNumber: number): MidiEvent =>
    ({ ...on(deltaTime, noteNumber), type: 'noteOff', velocity: 0 }) as MidiEvent;
  const end: MidiEvent = { type: 'endOfTrack', deltaTime: 0, meta: true };
  const midi = (tracks: MidiEvent[][], header: object = {}) =>
    Uint8Array.from(
      writeMidi({
        header: { format: 1, numTracks: tracks.length, ticksPerBeat: 480, ...header },
        tracks: tracks.map((track) => [...track, end]),
      }),
    );
  const read = (bytes: Uint8Array, machine = description) =>
    readPattern('pattern.mid', bytes, machine, inMachine);

  it('has a pin for every note-on, tracks laid over one another', () => {
    const tracks = [
      [{ type: 'setTempo', deltaTime: 0, meta: true, microsecondsPerBeat: 5e5 } as MidiEvent],
      [on(0, 36), off(100, 36), on(140, 40), off(10, 40), on(230 + 480, 36)],
      [on(480, 40)],
    ];
    // ticks 0, 240 and 960 of the second track, 480 of the third
    expect(read(midi(tracks))).toEqual([
      { step: 0, channel: 0, line: null },
      { step: 1, channel: 1, line: null },
      { step: 2, channel: 1, line: null },
      { step: 4, channel: 0, line: null },
    ]);
  });
  it('written by another program is read alike (tests/reference/midi)', () => {
    // 96 ticks a quarter note and 2 steps a beat: a step is 48 ticks; notes at 0, 48, and two at 528
    const bytes = readFileSync(new URL('../reference/midi/pattern.mid', import.meta.url));
    const rows = read(bytes).map((pin) => [pin.step, pin.channel]);
    expect(rows).toEqual([
      [0, 0],
      [1, 1],
      [11, 0],
      [11, 1],
    ]);
  });
  it('takes a note-on of velocity 0 for the note-off that it is', () =>
    expect(read(midi([[on(0, 36), { ...on(100, 36), velocity: 0 } as MidiEvent]]))).toHaveLength(1));
  it('takes the nearest tick where a step is no whole number of them', () => {
    // 7 steps a beat of 480 ticks: step 3 at 205.7, written as 206; 207 is off the grid
    const sevenths = { ...description, barrel: { ...description.barrel, stepsPerBeat: 7 } };
    expect(read(midi([[on(206, 36)]]), sevenths)[0].step).toBe(3);
    // 207·7/480 = 3.01875, kept where it is
    expect(read(midi([[on(207, 36)]]), sevenths)[0].step).toBe(3.0188);
  });
  it('keeps triplets and swing where they are', () => {
    // 480 ticks a beat of two steps: eighth triplets at 160 and 320, a swung eighth at 300
    const tracks = [[on(0, 36), on(160, 36), on(160, 36)], [on(300, 40)]];
    expect(read(midi(tracks)).map(({ step, channel }) => [step, channel])).toEqual([
      [0, 0],
      [0.6667, 0],
      [1.25, 1],
      [1.3333, 0],
    ]);
  });
  it.each([
    [
      'beyond one turn',
      [on(12 * 240, 40)],
      'pattern.mid: tick 2880: note 40 is at step 12, but one turn ends with step 11; keep one turn in the file, or correct "steps" and "stepsPerBeat" in machine.jsonc',
    ],
    [
      'unknown',
      [on(0, 41)],
      'pattern.mid: tick 0: note 41 has no channel; add it to "notes" in machine.jsonc, or remove the note',
    ],
    [
      'there twice',
      [on(240, 36), on(0, 36)],
      'pattern.mid: tick 240: "clap" has a pin at step 1 already; remove one',
    ],
    ['absent', [], 'pattern.mid: there are no notes in it; export the pattern again'],
  ])('is refused where a note is %s', (_, track, message) =>
    expect(messageOf(() => read(midi([track])))).toBe(message),
  );
  it('needs "notes" in the machine', () =>
    expect(messageOf(() => read(midi([[on(0, 36)]]), { ...description, notes: undefined }))).toBe(
      'machine.jsonc: notes: "notes" is missing, which a MIDI pattern needs; add "notes": { "36": "clap" } with a line for every note',
    ));
  it('is refused where it is cut off, anywhere', () => {
    const whole = midi([[on(0, 36), on(240, 40)], [on(480, 40)]]);
    expect(read(whole)).toHaveLength(3);
    for (let length = 0; length < whole.length; length++) {
      expect(
        messageOf(() => read(whole.slice(0, length))),
        `${length} bytes`,
      ).toMatch(/^pattern\.mid: /);
    }
  });
  it('is refused where it is something else', () => {
    expect(messageOf(() => read(utf8('step,channel\n0,clap\n')))).toBe(
      'pattern.mid: this is not a Standard MIDI File; export the pattern again',
    );
    expect(messageOf(() => read(midi([[on(0, 36)]], { format: 2 })))).toContain('format 2');
    const frames = midi([[on(0, 36)]]);
    frames.set([0xe7, 40], 12); // division: 25 frames of 40 ticks
    expect(messageOf(() => read(frames))).toContain('frames');
  });
});
