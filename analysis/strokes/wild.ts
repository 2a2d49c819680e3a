/** Strokes that chance does not explain: single slips, and hits of something else that fell near a pin. */
import { grouped } from '../numbers/grouped.ts';
import { studentTQuantile } from '../numbers/inference.ts';
import { median, robustSd } from '../numbers/statistics.ts';
import type { MatchedHit } from './match.ts';

/** Chance of one stroke that is called wild and is not: six standard deviations, where these are well known. */
const falseAlarm = 2e-9;
/** Below this distance from its pin's other strokes no stroke is called wild: smaller slips are what is measured. */
const leastWildS = 0.0005;
/** Where more strokes than this share lie far off, that is how the striker is: a release that sticks has two times, not one. */
const mostWild = 0.1;
/** Of fewer strokes the middle is itself one of them, and the spread about it too small. */
const leastOfPin = 4;
/** A spread of fewer strokes says too little. */
const leastOfChannel = 8;

/**
 * How many standard deviations are beyond chance where these are estimated with so many degrees of freedom: a spread of a
 * dozen strokes may be half of what it should.
 */
export function wildFrom(degreesOfFreedom: number): number {
  return studentTQuantile(1 - falseAlarm / 2, Math.max(1, degreesOfFreedom));
}

/** Hits that lie so far from their pin's other strokes that chance is out. */
export function wildStrokes(pairs: readonly MatchedHit[]): number[] {
  const channels = grouped(pairs, ({ due }) => due.channel);
  return [...channels.values()].flatMap((ofChannel) => {
    const pins = [...grouped(ofChannel, ({ due }) => due.step).values()];
    const rests = pins
      .filter((ofPin) => ofPin.length >= leastOfPin)
      .flatMap((ofPin) => {
        const middle = median(ofPin.map(({ latenessS }) => latenessS));
        return ofPin.map(({ hit, latenessS }) => ({ hit, rest: latenessS - middle }));
      });
    if (rests.length < leastOfChannel) return [];
    const judged = pins.filter((ofPin) => ofPin.length >= leastOfPin).length;
    const sds = wildFrom(rests.length - judged);
    const spread = Math.max(leastWildS, sds * robustSd(rests.map(({ rest }) => rest)));
    const far = rests.filter(({ rest }) => Math.abs(rest) > spread);
    return far.length > mostWild * rests.length ? [] : far.map(({ hit }) => hit);
  });
}
