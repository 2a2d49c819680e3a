/** Listening while a take is recorded: its last stretch is heard again and again, and each time a few lines say what was heard. */
import { listenedWords, type StretchReport, type ListeningGoal } from '../../analysis/report/listening.ts';

/** What a host gives: how the recording is heard, and where words go. */
export interface Listener {
  /** @returns null while nothing of the recording can be read */
  readonly hear: (lastS: number) => Promise<StretchReport | null>;
  readonly say: (line: string) => void;
  /** Resolves after so long, s, or at once when the listening is to end. */
  readonly wait: (seconds: number) => Promise<void>;
  /** A clock, s. */
  readonly now: () => number;
  /** The person ended it. */
  readonly isEnded: () => boolean;
}

/** Lines come no faster. */
const leastWaitS = 5;
/** A stretch of two turns tells every channel once over; before the turn's time is known it is this long, s. */
const firstStretchS = 30;
const leastTurns = 2;
/** More turns narrow an interval little and cost the memory and time of all of them. */
const mostTurns = 20;
/** However slow the barrel: a stretch of 96 kHz stereo is 70 MB in memory then. */
const longestStretchS = 180;
/** Of the time between two lines so much may go into hearing: the rest is left to the recorder. */
const share = 0.6;
/** A recording that has not grown for so long, s, has been ended. */
const quietS = 10;

/**
 * Returns when the person ends it or the recording grows no more.
 *
 * @throws what `hear` throws
 */
export async function listen(listener: Listener, wanted: ListeningGoal): Promise<void> {
  const { hear, say, wait, now, isEnded } = listener;
  let lastS = firstStretchS;
  let recordedS = 0;
  let grewAt = now();
  let wasEnough = false;
  while (!isEnded()) {
    const began = now();
    const heard = await hear(lastS);
    const tookS = now() - began;
    if (heard !== null && heard.recordedS > recordedS) {
      recordedS = heard.recordedS;
      grewAt = began;
      const { lines, secondsPerTurn, isEnough } = listenedWords(heard, wanted);
      for (const line of lines) say(line);
      if (isEnough && !wasEnough) say('      you may stop the recorder');
      wasEnough = isEnough;
      lastS = nextStretchS(heard.stretchS, tookS, secondsPerTurn);
      await wait(Math.max(leastWaitS, secondsPerTurn ?? 0) - tookS);
    } else {
      if (recordedS > 0 && now() - grewAt > quietS) return;
      await wait(1);
    }
  }
}

/** As many turns as can be heard in the time between two lines. */
function nextStretchS(stretchS: number, tookS: number, secondsPerTurn: number | null): number {
  if (secondsPerTurn === null) return Math.min(longestStretchS, 2 * firstStretchS);
  const everyS = Math.max(leastWaitS, secondsPerTurn);
  const affordable = stretchS * ((share * everyS) / Math.max(tookS, 0.01));
  const turns = Math.min(mostTurns, Math.max(leastTurns, affordable / secondsPerTurn));
  return Math.min(longestStretchS, turns * secondsPerTurn);
}
