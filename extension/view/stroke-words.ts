/** One hit in words and figures. */
import { signed } from '../../analysis/report/reading.ts';
import { minutesAndSeconds } from '../../analysis/words/minutes.ts';
import { none } from '../protocol/page-report.ts';
import type { TakeModel } from './take-model.ts';

/** "1:02.345", to the millisecond */
export function clock(timeS: number): string {
  if (!Number.isFinite(timeS)) return '–';
  const ms = Math.round(timeS * 1000);
  return `${minutesAndSeconds(Math.floor(ms / 1000))}.${`${ms % 1000}`.padStart(3, '0')}`;
}

export function latenessWords(ms: number): string {
  if (!Number.isFinite(ms)) return 'lateness not known';
  const size = Math.abs(ms).toFixed(2);
  return Number(size) === 0 ? 'on time' : `${size} ms ${ms > 0 ? 'late' : 'early'}`;
}

/** Figures of a lateness; "–" where unknown. */
export function latenessFigure(ms: number): string {
  return signed(Number.isFinite(ms) ? ms : null);
}

/** Turns are counted from one where people read them. */
export function turnWords(turn: number): string {
  return turn === none ? '–' : `${turn + 1}`;
}

export function strokeWords(model: TakeModel, hit: number): string {
  const { hits } = model;
  const why = model.whyOf(hit);
  const sector = model.sectorOf(hit);
  return [
    model.nameOf(model.channelOf(hit)),
    latenessWords(hits.latenessMs[hit]),
    ...(hits.step[hit] === none ? [] : [`pin at step ${hits.step[hit]}`]),
    ...(sector === null ? [] : [`sector ${sector}`]),
    ...(hits.turn[hit] === none ? [] : [`turn ${turnWords(hits.turn[hit])}`]),
    `at ${clock(hits.timeS[hit])}`,
    ...(why === null ? [] : [`set aside: ${why}`]),
  ].join(', ');
}
