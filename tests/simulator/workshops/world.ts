/**
 * A workshop's machine as it truly is, which nobody there knows: what each part does, where it stands, how each pin sits.
 * What the builder believes of it stands beside (`written…`). Angular lateness is in ms at the machine's usual tempo and
 * grows with the turn; fixed lateness (falls, magnets) is the same at every tempo. Positive is late.
 */
import { steadyDrive, type Drive } from './drive.ts';
import { chance, type Chance } from './random.ts';

/** What kind of machine: the least that situations differ by. */
export interface Shape {
  readonly sectors: number;
  readonly strikers: number;
  readonly stepsPerSector: number;
  /** Pins of a striker in each sector. */
  readonly pins: number;
  /** The reference strikes every so many steps. */
  readonly referenceEvery: number;
  readonly turns: number;
  readonly bpm: number;
  /** Standard deviations, ms: of the channels' and sectors' lateness as built. */
  readonly channelMs: number;
  readonly sectorMs: number;
  /** Of one pin's strokes, of a group's pins, of the reference's strokes, of its pins. */
  readonly strokeMs: number;
  readonly pinMs: number;
  readonly referenceStrokeMs: number;
  readonly referencePinMs: number;
  /** Where a part comes to rest, ms of its own shift. */
  readonly refitMs: number;
  /** Effects lie between 1 less this and 1 more of what geometry says. */
  readonly effectSpread: number;
  /** All sectors are pinned as the first is. */
  readonly alike: boolean;
  /** Units that each setting may go from where it stands. */
  readonly range: number;
  readonly drive: Drive;
}

export const usualShape: Shape = {
  sectors: 3,
  strikers: 2,
  stepsPerSector: 32,
  pins: 3,
  referenceEvery: 4,
  turns: 4,
  bpm: 120,
  channelMs: 4,
  sectorMs: 3,
  strokeMs: 0.3,
  pinMs: 0.3,
  referenceStrokeMs: 0.2,
  referencePinMs: 0.1,
  refitMs: 0.1,
  effectSpread: 0.3,
  alike: false,
  range: 20,
  drive: steadyDrive,
};

export interface Striker {
  readonly id: string;
  /** Whether sectors move it. */
  readonly onBarrel: boolean;
  angularMs: number;
  fixedMs: number;
  strokeMs: number;
  /** Chance that a stroke of it fails, and that something else strikes the same drum. */
  misses: number;
  extras: number;
  toleranceMs: number;
}

export interface TruePin {
  readonly striker: number;
  /** Where the pattern has it; the sector it is written in follows from that. */
  writtenStep: number;
  /** Where it is on the barrel; the sector that carries it truly. */
  trueStep: number;
  trueSector: number;
  /** How it sits, ms late at the usual tempo. */
  ms: number;
  /** In a wrong hole by itself: means leave it out. */
  astray: boolean;
}

export interface Part {
  readonly id: string;
  readonly unit: string;
  readonly perUnit: Readonly<Record<string, number>>;
  /** What the file says it shifts, and what else by a share. */
  shifts: Readonly<Record<string, readonly string[]>>;
  alsoShifts?: readonly { readonly channels: readonly string[]; readonly share: number }[];
  /** Of its shift by geometry at the usual tempo, for one unit, ms; whether it grows with the turn. */
  readonly unitMs: number;
  readonly angular: boolean;
  /** What it truly does, as a multiple of geometry. */
  readonly factor: number;
  /** How much of its shift each striker takes in each sector, at striker · sectors + sector. */
  readonly takes: Float64Array;
  /** Units; where it stood when the machine was built, where it stands now, and what the file says. */
  readonly built: number;
  stands: number;
  written: number;
  readonly min: number;
  readonly max: number;
  /** Units lost where the direction of a change differs from the one before, and that direction. */
  backlash: number;
  lastWay: number;
  /** A tightened ring may slip: standard deviation in units for each change of it. */
  slips: number;
}

export interface World {
  readonly shape: Shape;
  readonly diameterMm: number;
  readonly steps: number;
  /** First steps of the sectors as the file has them. */
  writtenFrom: number[];
  readonly sectorMs: Float64Array;
  /** What no adjuster mends: striker × sector, ms. */
  readonly groupMs: Float64Array;
  readonly strikers: Striker[];
  readonly pins: TruePin[];
  readonly parts: Part[];
  readonly limits: { adjusters: string[]; sumMax: number; why: string }[];
  /** The label that hangs on a part → the part that it truly turns. */
  labels: Map<string, string>;
  drive: Drive;
  bpm: number;
  turns: number;
}

export const secondsPerTurn = (world: World, bpm = world.bpm) => ((world.steps / 4) * 60) / bpm;

/** A machine as chance builds it. The same shape and seed give the same machine. */
export function build(shape: Shape, seed: number): World {
  const random = chance(seed, 'machine');
  const steps = shape.sectors * shape.stepsPerSector;
  const sectorIds = Array.from({ length: shape.sectors }, (_, s) => String.fromCharCode(65 + s));
  const strikers = Array.from({ length: shape.strikers + 1 }, (_, c): Striker => ({
    id: c === 0 ? 'block' : `drum-${c}`,
    onBarrel: c !== 0,
    angularMs: c === 0 ? 0 : shape.channelMs * random.normal(),
    fixedMs: 0,
    strokeMs: c === 0 ? shape.referenceStrokeMs : shape.strokeMs,
    misses: 0.005,
    extras: 0,
    toleranceMs: 2,
  }));
  const diameterMm = Math.round(random.between(700, 1000));
  const turnS = ((steps / 4) * 60) / shape.bpm;
  const shimMs = (1000 * 0.1 * turnS) / (Math.PI * diameterMm);
  const factor = () => random.between(1 - shape.effectSpread, 1 + shape.effectSpread);
  const joints = sectorIds.slice(1).map(
    (id, j) =>
    part({ id: `joint-${sectorIds[j]}${id}`, shifts: { sectors: sectorIds.slice(j + 1) }, unitMs: shimMs }, shape, factor(),
      (c, s) => (c !== 0 && s > j ? 1 : 0)), // prettier-ignore
  );
  const levers = strikers.slice(1).map(
    ({ id }, i) =>
    part({ id: `lever-${i + 1}`, shifts: { channels: [id] }, unitMs: shimMs }, shape, factor(),
      (c) => (c === i + 1 ? 1 : 0)), // prettier-ignore
  );
  const beats = steps / 4;
  const ring: Part = {
    ...part({ id: 'ring', shifts: { channels: ['block'] }, unitMs: ((1000 * 0.5) / 360) * (turnS / beats) }, shape, factor(),
      (c) => (c === 0 ? 1 : 0)), // prettier-ignore
    unit: 'notch',
    perUnit: { degrees: 0.5, turnsPerBarrelTurn: beats },
  };
  return {
    shape,
    diameterMm,
    steps,
    writtenFrom: sectorIds.map((_, s) => s * shape.stepsPerSector),
    sectorMs: Float64Array.from(sectorIds, () => shape.sectorMs * random.normal()),
    groupMs: Float64Array.from({ length: strikers.length * shape.sectors }, (_, i) =>
      i < shape.sectors ? 0 : 0.2 * random.normal(),
    ),
    strikers,
    pins: pinned(shape, random),
    parts: [...joints, ring, ...levers],
    limits: joints.length === 0 ? [] : [{ adjusters: joints.map(({ id }) => id), sumMax: 45 * joints.length, why: 'closing gap' }], // prettier-ignore
    labels: new Map(),
    drive: shape.drive,
    bpm: shape.bpm,
    turns: shape.turns,
  };
}

type Named = Pick<Part, 'id' | 'shifts' | 'unitMs'>;

function part(named: Named, shape: Shape, factor: number, takes: (c: number, s: number) => number): Part {
  const installed = 40;
  return {
    ...named,
    unit: 'shim',
    perUnit: { mm: 0.1 },
    angular: true,
    factor,
    takes: Float64Array.from({ length: (shape.strikers + 1) * shape.sectors }, (_, i) =>
      takes(Math.floor(i / shape.sectors), i % shape.sectors),
    ),
    built: installed,
    stands: installed,
    written: installed,
    min: installed - shape.range,
    max: installed + shape.range,
    backlash: 0,
    lastWay: 0,
    slips: 0,
  };
}

/** The reference on its beats; strikers by chance, never two pins of one on neighbouring steps. */
function pinned(shape: Shape, random: Chance): TruePin[] {
  const pins: TruePin[] = [];
  const add = (striker: number, step: number, ms: number) =>
    pins.push({
      striker,
      writtenStep: step,
      trueStep: step,
      trueSector: Math.floor(step / shape.stepsPerSector),
      ms,
      astray: false,
    });
  const steps = shape.sectors * shape.stepsPerSector;
  for (let step = 0; step < steps; step += shape.referenceEvery)
    add(0, step, shape.referencePinMs * random.normal());
  let places: number[][] = [];
  for (let sector = 0; sector < shape.sectors; sector++) {
    if (sector === 0 || !shape.alike)
      places = Array.from({ length: shape.strikers }, () => apart(shape.pins, shape.stepsPerSector, random));
    places.forEach((own, c) => {
      for (const place of own)
        add(c + 1, sector * shape.stepsPerSector + place, shape.pinMs * random.normal());
    });
  }
  return pins.sort((a, b) => a.writtenStep - b.writtenStep || a.striker - b.striker);
}

/** So many places in a sector, at least three steps apart and off its edges. */
function apart(count: number, steps: number, random: Chance): number[] {
  const chosen: number[] = [];
  for (let tries = 0; chosen.length < count && tries < 1000; tries++) {
    const place = 1 + random.whole(steps - 2);
    if (chosen.every((other) => Math.abs(other - place) > 2)) chosen.push(place);
  }
  return chosen;
}

/** A machine to try things on: what is done to it does not touch the first. */
export function copyOf(world: World): World {
  return {
    ...world,
    writtenFrom: [...world.writtenFrom],
    sectorMs: Float64Array.from(world.sectorMs),
    groupMs: Float64Array.from(world.groupMs),
    strikers: world.strikers.map((one) => ({ ...one })),
    pins: world.pins.map((one) => ({ ...one })),
    parts: world.parts.map((one) => ({ ...one })),
    labels: new Map(world.labels),
  };
}
