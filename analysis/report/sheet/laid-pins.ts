/** The pins of a barrel as a take found them: where each sits, how it strikes, and how to find it by hand. */
import { sectorOf } from '../../machine/effects.ts';
import type { EarlierReport } from '../../results/results.ts';
import { judge, plural, type Judgement } from '../reading.ts';
import type { BarrelView } from './barrel-view.ts';

export interface LaidPin {
  /** Index into the machine's channels. */
  readonly channel: number;
  /** Where the pattern has it. */
  readonly step: number;
  /** The hole in which it sits; the same as `step` unless a take found it in another. */
  readonly sits: number;
  readonly judgement: Judgement;
  readonly meanMs: number | null;
  readonly ci95Ms: number | null;
  /** Lateness in units of the channel's tolerance; null where it was not measured. */
  readonly ofTolerance: number | null;
}

/**
 * @param report of the take that is shown; null shows the pattern alone
 * @returns every pin of the view, in its order
 */
export function laidPins(view: BarrelView, report: EarlierReport | null): LaidPin[] {
  const key = (channel: string, step: number) => JSON.stringify([channel, step]);
  const measured = new Map((report?.pins ?? []).map((pin) => [key(pin.channel, pin.step), pin]));
  const doubted = new Set(
    (report?.groups ?? []).flatMap(({ channel, sector, doubt }) =>
      doubt === undefined ? [] : [JSON.stringify([channel, sector])],
    ),
  );
  const found = new Map(
    (report?.findings ?? []).flatMap(({ kind, channel, step, foundStep }) =>
      kind === 'misplaced-pin' && channel !== undefined && step !== undefined && foundStep !== undefined
        ? [[key(channel, step), foundStep] as const]
        : [],
    ),
  );
  return view.pins.map(({ channel, step }) => {
    const { id, toleranceMs } = view.channels[channel];
    const sector = view.barrel.sectors[sectorOf(view, step)].id;
    const pin = doubted.has(JSON.stringify([id, sector])) ? undefined : measured.get(key(id, step));
    const [meanMs, ci95Ms] = [pin?.meanMs ?? null, pin?.ci95Ms ?? null];
    return {
      channel,
      step,
      sits: found.get(key(id, step)) ?? step,
      judgement: judge(meanMs, ci95Ms, toleranceMs),
      meanMs,
      ci95Ms,
      ofTolerance: meanMs === null ? null : meanMs / toleranceMs,
    };
  });
}

/**
 * How a person finds a pin without counting steps around the barrel: by its channel's pins from the nearer joint of the
 * sector in which it sits. "the 2nd Low drum pin after the joint where sector B begins".
 *
 * @param pins all of the view's
 */
export function pinPlaceWords(view: BarrelView, pins: readonly LaidPin[], pin: LaidPin): string {
  const sector = sectorOf(view, pin.sits);
  const { id } = view.barrel.sectors[sector];
  const { name } = view.channels[pin.channel];
  const { steps } = view.barrel;
  const from = view.barrel.sectors[sector].from;
  const along = (step: number) => (step - from + steps) % steps;
  const own = pins
    .filter((each) => each.channel === pin.channel && sectorOf(view, each.sits) === sector)
    .sort((a, b) => along(a.sits) - along(b.sits));
  const after = own.findIndex(({ step }) => step === pin.step) + 1;
  const before = own.length - after + 1;
  const noun = `${name} pin`;
  return after <= before
    ? `the ${ordinal(after)} ${noun} after the joint where sector ${id} begins`
    : `the ${before === 1 ? 'last' : `${ordinal(before)} last`} ${noun} before the joint where sector ${id} ends`;
}

/** "2 steps on, to step 38": the shorter way round, on being the way in which steps are counted. */
export function moveWords({ barrel }: BarrelView, { sits, step }: LaidPin): string {
  const { steps } = barrel;
  const on = (step - sits + steps) % steps;
  const isOn = on <= steps / 2;
  const count = +(isOn ? on : steps - on).toFixed(3);
  return `${plural(count, 'step')} ${isOn ? 'on' : 'back'}, to step ${step}`;
}

/** 1st, 2nd, 3rd, 4th, 11th, 21st */
export function ordinal(count: number): string {
  const teens = count % 100 >= 11 && count % 100 <= 13;
  return `${count}${(teens ? undefined : ['', 'st', 'nd', 'rd'][count % 10]) || 'th'}`;
}
