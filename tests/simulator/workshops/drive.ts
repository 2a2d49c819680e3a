/**
 * How a barrel turns: its speed is integrated in small steps, and the instant at which it has come to an angle is looked up
 * in what came out. Nothing is smooth by assumption: a drive may wander, hunt, slow down, or stand still for a while.
 */
import type { Chance } from './random.ts';

export interface Drive {
  /** Random wander of the speed: standard deviation as a share of it, and how long it remembers. */
  readonly wander: number;
  readonly wanderS: number;
  /** A regulator that hunts: share of the speed either way, and its period. */
  readonly hunting: number;
  readonly huntingS: number;
  /** Share of its speed lost from the first to the last moment. */
  readonly slowing: number;
  /** It stops in the middle of the take for so long. */
  readonly stopS: number;
}

export const steadyDrive: Drive = {
  wander: 0.0005,
  wanderS: 4,
  hunting: 0,
  huntingS: 3,
  slowing: 0,
  stopS: 0,
};

/** s; a linear course between two points is then right within a microsecond for a drive that hunts by 1 % in 2 s. */
const stepS = 0.01;

/**
 * @param turns  how many are to be reached
 * @returns the instant, s, at which the barrel has made so many turns since the start
 */
export function course(
  drive: Drive,
  secondsPerTurn: number,
  turns: number,
  random: Chance,
): (turns: number) => number {
  const nominal = 1 / secondsPerTurn;
  const wholeS = turns * secondsPerTurn;
  const phaseOfHunting = random.between(0, 2 * Math.PI);
  const keeps = Math.exp(-stepS / drive.wanderS);
  let wander = drive.wander * random.normal();
  let at = 0;
  const angles: number[] = [0];
  const stopAt = wholeS * random.between(0.4, 0.6);
  for (let i = 0; at < turns + 0.05; i++) {
    const timeS = i * stepS;
    wander = keeps * wander + drive.wander * Math.sqrt(1 - keeps * keeps) * random.normal();
    const hunts = drive.hunting * Math.sin(phaseOfHunting + (2 * Math.PI * timeS) / drive.huntingS);
    const slows = drive.slowing * (timeS / wholeS - 0.5);
    const stands = timeS >= stopAt && timeS < stopAt + drive.stopS;
    at += stands ? 0 : nominal * stepS * (1 + wander + hunts - slows);
    angles.push(at);
  }
  return (angle) => {
    let low = 0;
    let high = angles.length - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (angles[middle] <= angle) low = middle;
      else high = middle;
    }
    return stepS * (low + (angle - angles[low]) / (angles[high] - angles[low]));
  };
}
