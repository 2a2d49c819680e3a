/** All checks, in the order in which their findings are told. To add one, add its file and a line here. */
import type { Finding, Section } from '../results/results.ts';
import type { Check, Study } from './check.ts';
import { apart } from './apart.ts';
import { clocks } from './clocks.ts';
import { extraHit } from './extra-hit.ts';
import { feedRanOut } from './feed-ran-out.ts';
import { instants } from './instants.ts';
import { loudness } from './loudness.ts';
import { lossy } from './lossy.ts';
import { lowRate } from './low-rate.ts';
import { misplacedPin } from './misplaced-pin.ts';
import { missingHit } from './missing-hit.ts';
import { pinError } from './pin-error.ts';
import { rebound } from './rebound.ts';
import { recorderGain } from './recorder-gain.ts';
import { badSamples, clipped, noisy, readersNotices, silentTrack, unknownSound } from './recording.ts';
import { ambiguousRotation, noRotation, unidentifiableSectors } from './rotation.ts';
import { channelOff, channelsSwapped, mirroredPattern, sectorOff } from './off-as-a-whole.ts';
import { otherTune } from './other-tune.ts';
import { outOfRange } from './settings.ts';
import { pinsMissing } from './pins-missing.ts';
import { roundedTimes } from './rounded-times.ts';
import { sectorBoundary } from './sector-boundary.ts';
import { sectorEdge } from './sector-edge.ts';
import { shaftWobble } from './shaft-wobble.ts';
import { stopped } from './stopped.ts';
import { swingInStep } from './swing-in-step.ts';
import { tempoDrift } from './tempo-drift.ts';
import { tooFewHits } from './too-few-hits.ts';
import { unknownLabel } from './unknown-label.ts';
import { unrepeatable } from './unrepeatable.ts';

export const checks: readonly Check[] = [
  otherTune,
  pinsMissing,
  channelsSwapped,
  mirroredPattern,
  noRotation,
  ambiguousRotation,
  unidentifiableSectors,
  channelOff,
  sectorOff,
  misplacedPin,
  sectorBoundary,
  pinError,
  sectorEdge,
  apart,
  stopped,
  swingInStep,
  tempoDrift,
  shaftWobble,
  unrepeatable,
  missingHit,
  feedRanOut,
  rebound,
  extraHit,
  loudness,
  unknownSound,
  unknownLabel,
  silentTrack,
  clocks,
  clipped,
  recorderGain,
  lossy,
  lowRate,
  noisy,
  badSamples,
  readersNotices,
  roundedTimes,
  outOfRange,
  tooFewHits,
  instants,
];

/** @param extra checks that others registered; they run after the built-in ones */
export function runChecks(study: Study, extra: readonly Check[] = []): Finding[] {
  return [...checks, ...extra].flatMap((check) => check.run(study));
}

/** Parts of the report that checks have to say beside findings, in the checks' order. */
export function sectionsOf(study: Study, extra: readonly Check[] = []): Section[] {
  return [...checks, ...extra].flatMap((check) => check.section?.(study) ?? []);
}
