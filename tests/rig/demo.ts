/** The demo machine's takes in memory, beside the truth that they were played from. */
import type { Machine } from '../../analysis/machine/machine.ts';
import type { Take } from '../../analysis/take/take.ts';
import { recordRound, sampleRate } from '../../samples/demo-takes.ts';
import { demoRounds, playRound } from '../../samples/demo-truth.ts';
import { demoMachine } from '../../samples/make.ts';
import type { Played, Strike } from '../../samples/play.ts';
import { takeOf, trackOf } from './take.ts';

export const demoTakeNames = ['1-as-built', '2-first-shims', '3-nearly-there'] as const;
export type DemoTakeName = (typeof demoTakeNames)[number];

export interface DemoTake {
  readonly machine: Machine;
  readonly take: Take;
  readonly played: Played;
}

/** @param laterS recorded anew with each strike so much later, its sound and all else as they were */
export async function demoTake(
  name: DemoTakeName,
  laterS: (strike: Strike) => number = () => 0,
): Promise<DemoTake> {
  const machine = await demoMachine();
  const round = demoRounds(machine).find((one) => one.name === name)!;
  const asWas = playRound(machine, round);
  const strikes = asWas.strikes.map((strike) => ({ ...strike, timeS: strike.timeS + laterS(strike) }));
  const played = { ...asWas, strikes };
  const tracks = recordRound(machine, round, played).map(({ samples, channels, file, track }) => ({
    ...trackOf(samples, sampleRate, channels, file),
    track,
  }));
  const description = { tempo: 120 };
  const take = { ...takeOf(machine, tracks), name, description, settings: { ...round.settings } };
  return { machine, take, played };
}
