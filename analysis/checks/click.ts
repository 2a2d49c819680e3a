/** A recorded click: its rate by the recorder's own clock, so that the clock cancels where the machine is set against it. */
import { median } from '../numbers/statistics.ts';
import type { Study } from './check.ts';

export interface Click {
  readonly clicks: number;
  readonly secondsPerClick: number;
  /** Standard error, s. */
  readonly standardErrorS: number;
}

const leastClicks = 8;
const label = /^click$/i;

/** From the channel that machine.jsonc calls the click, else from markers labelled "click"; null where there is none. */
export function clickOf({ machine, take, strokes: { hits } }: Study): Click | null {
  const { click, channels } = machine.description;
  const channel = channels.findIndex(({ id }) => id === click);
  const heard = [...hits.channel.keys()].filter((i) => channel >= 0 && hits.channel[i] === channel);
  const timesS =
    heard.length > 0
      ? heard.map((i) => hits.timeS[i])
      : take.markers.filter((marker) => label.test(marker.label)).map(({ timeS }) => timeS);
  return timesS.length < leastClicks ? null : rateOf(timesS);
}

/** A straight line through click number and time; a click that was not heard leaves its number out. */
function rateOf(timesS: readonly number[]): Click | null {
  const usual = median(timesS.slice(1).map((time, i) => time - timesS[i]));
  const numbers = timesS.reduce<number[]>(
    (all, time, i) => [...all, i === 0 ? 0 : all[i - 1] + Math.round((time - timesS[i - 1]) / usual)],
    [],
  );
  const n = timesS.length;
  const middle = numbers.reduce((a, b) => a + b, 0) / n;
  const middleS = timesS.reduce((a, b) => a + b, 0) / n;
  const xx = numbers.reduce((total, k) => total + (k - middle) ** 2, 0);
  const xy = numbers.reduce((total, k, i) => total + (k - middle) * (timesS[i] - middleS), 0);
  const slope = xy / xx;
  const squares = numbers.reduce(
    (total, k, i) => total + (timesS[i] - middleS - slope * (k - middle)) ** 2,
    0,
  );
  return { clicks: n, secondsPerClick: slope, standardErrorS: Math.sqrt(squares / (n - 2) / xx) };
}
