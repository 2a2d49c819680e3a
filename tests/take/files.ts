/** Files in memory, and takes read from them, for the tests of this folder. */
import { expect } from 'vitest';
import { writeWav } from '../../samples/wav.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import type { SourceFile } from '../../analysis/ports.ts';
import { InputProblem } from '../../analysis/input/problem.ts';
import { readTake, type Frozen } from '../../analysis/take/read.ts';
import { machineOf } from '../machine/machine.ts';

export function memoryFile(name: string, content: Uint8Array | string): SourceFile {
  const bytes = typeof content === 'string' ? new TextEncoder().encode(content) : content;
  return {
    name,
    sizeBytes: bytes.length,
    read: (start = 0, end = bytes.length) => Promise.resolve(bytes.slice(start, Math.max(start, end))),
  };
}

export const machine: Machine = machineOf({
  name: 'Ferry steps barrel',
  barrel: {
    steps: 12,
    stepsPerBeat: 2,
    diameterMm: 100,
    sectors: [
      { id: 'A', from: 2 },
      { id: 'B', from: 6 },
    ],
  },
  reference: 'clap',
  channels: [{ id: 'clap', onBarrel: false }, { id: 'bell', name: 'Low bell' }, { id: 'drum' }],
  adjusters: [
    { id: 'joint', unit: 'shim', perUnit: { mm: 0.1 }, installed: 3, min: 0, max: 8 },
    { id: 'lever', unit: 'shim', perUnit: { mm: 0.1 }, installed: 2, min: 0, max: 6 },
  ],
});

/** @param contents file name → bytes or text */
export function takeOf(contents: Readonly<Record<string, Uint8Array | string>>, frozen: Frozen = {}) {
  const files = Object.entries(contents).map(([name, content]) => memoryFile(name, content));
  return readTake('take-1', files, machine, frozen, {});
}

/** The one line that is said about these files. */
export async function lineAbout(contents: Readonly<Record<string, Uint8Array | string>>): Promise<string> {
  try {
    await takeOf(contents);
  } catch (error) {
    if (error instanceof InputProblem) return error.message;
    throw error;
  }
  throw new Error('the take was read, though it should not be');
}

/** Numbers that differ from sample to sample and from track to track, within ±0.5 and exact in 16 bits. */
export function ramp(length: number, track = 0): Float32Array {
  return Float32Array.from({ length }, (_, i) => (((i * 37 + track * 1009) % 32768) - 16384) / 32768);
}

/** A plain WAV of one second at 1 kHz, for takes whose audio does not matter. */
export const secondOfAudio = writeWav(1000, [ramp(1000)]);

/** As `toEqual`, which takes seconds over long arrays. */
export function expectSame(found: Float32Array, expected: Float32Array): void {
  expect(found.length).toBe(expected.length);
  expect(found.findIndex((x, i) => !Object.is(x, expected[i]))).toBe(-1);
}
