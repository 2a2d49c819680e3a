/** What is said of a recording in an inbox: which machine it fits, or why that cannot be told. */
import type { WhichMachine } from '../../analysis/hits/which-machine.ts';
import { minutesAndSeconds } from '../../analysis/words/minutes.ts';

/** What a person may choose of: null where no one machine is named. */
export function machineOffered(which: WhichMachine): number | null {
  return which.kind === 'fits' || which.kind === 'perhaps' ? which.machine : null;
}

const percent = (share: number) => `${Math.floor(100 * share)} %`;

const doubts = {
  short: 'less than a turn of the barrel',
  'even-beat': 'its pins are one even beat, which fits much else',
  'much-left': 'much that sounds is at no pin, or many pins are silent',
};

/** @param names of the machines that were asked, in their order */
export function whichWords(which: WhichMachine, names: readonly string[]): string {
  if (which.kind === 'none') {
    if (which.why === 'few-strikes') return 'too few strikes to tell';
    return names.length === 1
      ? `not ${names[0]}, by its pattern`
      : 'none of these machines, by their patterns';
  }
  if (which.kind === 'either') {
    const those = which.machines.map((machine) => names[machine]).join(' or ');
    return `${those}: their patterns fit alike, and voices do not tell`;
  }
  const { tune, ofSounds, ofPins } = which.fit;
  const name = names[which.machine] + (tune === undefined ? '' : `, ${tune}`);
  const shares = `${percent(ofSounds)} of its sounds at pins, ${percent(ofPins)} of pins heard`;
  if (which.kind === 'perhaps') return `perhaps ${name}: ${doubts[which.why]} (${shares})`;
  return `${name} (${shares}${which.by === 'voices' ? '; told by its voices' : ''})`;
}

/** "12:04" */
export function lengthWords(seconds: number): string {
  return minutesAndSeconds(Math.round(seconds));
}
