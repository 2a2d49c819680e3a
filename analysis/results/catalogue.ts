/**
 * The one catalogue of findings: each kind with how grave it is and what a person can do about it. The page, the
 * terminal and the Problems panel all say these words. To add a kind, add a row: the schema and the page follow, and
 * extension/guide/findings.md is written anew by `npm run guide`.
 *
 * Severities: at an error what was recorded and what was entered contradict each other, so that nothing can be relied on until
 * it is mended; a warning leaves a number in doubt, or names something to mend that shims do not mend; a note is worth a look,
 * and nothing waits for it.
 */
export const catalogue = {
  'misplaced-pin': {
    severity: 'warning',
    mend: 'move the pin, or correct the pattern if the barrel is right',
  },
  'channel-off': {
    severity: 'warning',
    mend: 'look at one of its pins: where it sits in its hole, correct the lateness; where it sits a step off, correct the pattern or move the pins',
  },
  'sector-off': {
    severity: 'warning',
    mend: 'compare a pin of the sector with the pattern: bolt the sector where it belongs, or correct its steps in the pattern',
  },
  'sector-boundary': {
    severity: 'warning',
    mend: 'look where the joint is, and correct "from" of the sector in machine.jsonc',
  },
  'channels-swapped': {
    severity: 'error',
    mend: 'look which microphone hears which, and put "tracks" or "labels" in take.jsonc right; or exchange the channels in the pattern',
  },
  'mirrored-pattern': {
    severity: 'error',
    mend: 'enter step s as the number of steps less s, or look whether the barrel turns the other way',
  },
  'other-tune': {
    severity: 'error',
    mend: 'correct "tune" in take.jsonc, or look whether the files under "patterns" in machine.jsonc are exchanged',
  },
  'perhaps-other-tune': {
    severity: 'warning',
    mend: 'look which tune was played and correct "tune" in take.jsonc; where it is right, mend the silent channel and the silent pins, and record again',
  },
  'pins-missing': {
    severity: 'error',
    mend: 'enter the pins of the barrel, of which “Draft a Pattern from a Take” (shimwright draft) makes a first list; where they are right, look whether the take is of this machine',
  },
  'missing-hit': {
    severity: 'note',
    mend: 'listen there first: another strike may have covered it; then look at the pin, the release and the feed',
  },
  'feed-ran-out': { severity: 'warning', mend: 'refill or free the feed, then record again' },
  rebound: { severity: 'note', mend: 'damp the striker or shorten its free travel' },
  'extra-hit': {
    severity: 'note',
    mend: 'listen at the named times: a stray pin, a rebound, or a noise in the room',
  },
  'sector-edge': { severity: 'note', mend: 'check the joint, or move the pattern away from the edge' },
  'pin-error': {
    severity: 'note',
    mend: 're-seat the named pins, or enter in the pattern what is meant of them (a step between, or "offset ms")',
  },
  unrepeatable: {
    severity: 'warning',
    mend: 'mend the release before shimming: its scatter is larger than tolerance',
  },
  stopped: {
    severity: 'note',
    mend: 'record without a stop for tempo and shafts; if nobody stopped the drive, look for what held it',
  },
  'tempo-drift': { severity: 'note', mend: 'let the drive warm up, or check its regulation' },
  'swing-in-step': {
    severity: 'warning',
    mend: 'give the reference pins at other places of the swing, or take a reference that strikes more often; look at what turns once in that time',
  },
  'shaft-wobble': { severity: 'note', mend: 'check the named shaft for run-out' },
  apart: { severity: 'note', mend: 'move the named striker as the advice for its channel allows' },
  'uneven-strikes': {
    severity: 'note',
    mend: 'look at the release, and at what the striker still moves from the stroke before: it does not fall or fly alike every time',
  },
  'loud-sector': {
    severity: 'note',
    mend: 'look how far the pins stand out there, and how the sector is bolted: what lifts further strikes harder',
  },
  fades: {
    severity: 'warning',
    mend: 'look at its spring, felt, pivot and drop height; where a microphone was moved nearer to the others, nothing is to be done',
  },
  'recorder-gain': {
    severity: 'note',
    mend: 'switch off automatic gain, limiter and compression, and leave the level alone while it records',
  },
  clipped: { severity: 'warning', mend: 'lower the recording level and record again' },
  'clocks-apart': {
    severity: 'note',
    mend: 'nothing to do; one recorder for all tracks spares the interval that is left',
  },
  'clocks-unknown': {
    severity: 'warning',
    mend: 'record all tracks with one recorder, or let every microphone hear some of the other strikers',
  },
  lossy: {
    severity: 'note',
    mend: 'record as WAV or FLAC; turning this file into one does not bring back what is gone',
  },
  'low-rate': {
    severity: 'warning',
    mend: 'record at 44.1 kHz or more; turning the file into one does not help',
  },
  noisy: { severity: 'warning', mend: 'move the microphone closer, or quieten the room' },
  'ambiguous-rotation': {
    severity: 'warning',
    mend: 'give "startStep" in take.jsonc, or a marker "sector:ID"',
  },
  'unidentifiable-sectors': {
    severity: 'warning',
    mend: 'take a reference that is not on the barrel, or record more turns',
  },
  'out-of-range': { severity: 'error', mend: 'correct the setting or its limits in machine.jsonc' },
  'too-few-hits': { severity: 'note', mend: 'record more turns' },
  'wrong-way-effect': { severity: 'warning', mend: 'check the sign of "perUnit" in machine.jsonc' },
  'no-effect': {
    severity: 'warning',
    mend: 'check that the adjuster is free and that "shifts" names what it moves',
  },
  'moved-unnoted': {
    severity: 'warning',
    mend: 'worn or loose: look there; mended, or set and not noted: say so under "worked" in take.jsonc, or correct its "settings"; the newest take counts either way',
  },
  slipped: {
    severity: 'warning',
    mend: 'see that the ring and the reference’s release sit fast; if one was set, correct "settings" in take.jsonc, or name it under "worked"',
  },
  drifts: {
    severity: 'warning',
    mend: 'look for wear there; the newest take counts, so advice follows',
  },
  'work-not-noted': {
    severity: 'warning',
    mend: 'write what was fitted under "settings" in take.jsonc and as "installed" in machine.jsonc, then analyse anew',
  },
  'work-not-done': {
    severity: 'warning',
    mend: 'look at the machine: correct "settings" in take.jsonc and "installed" in machine.jsonc to what is fitted, or do the work and record again',
  },
  'work-done-twice': {
    severity: 'warning',
    mend: 'count what is fitted, and correct "settings" in take.jsonc and "installed" in machine.jsonc',
  },
  miscounted: {
    severity: 'warning',
    mend: 'count what is fitted, and correct "settings" in take.jsonc and "installed" in machine.jsonc',
  },
  'wrong-place': {
    severity: 'warning',
    mend: 'look where the work was done, and correct "settings" in take.jsonc and "installed" in machine.jsonc',
  },
  'labels-swapped': {
    severity: 'warning',
    mend: 'exchange what "shifts" names for the two in machine.jsonc, or their labels on the machine',
  },
  'other-sectors': {
    severity: 'warning',
    mend: 'correct the sectors under "shifts" in machine.jsonc',
  },
  'moves-others': {
    severity: 'warning',
    mend: 'write it under "alsoShifts" of the adjuster in machine.jsonc, with that share',
  },
  'record-in-doubt': {
    severity: 'warning',
    mend: 'make the test that is named, or correct "settings" in take.jsonc',
  },
  'same-recording': {
    severity: 'warning',
    mend: 'put the right recording into the take’s folder, or delete the take',
  },
  'not-heard': {
    severity: 'warning',
    mend: 'record them so that they are heard, before anything is dismantled for them',
  },
  'pin-scatter': {
    severity: 'note',
    mend: 're-seat the pins that are farthest off: shims move all pins of a sector alike',
  },
  'out-of-reach': {
    severity: 'warning',
    mend: 'widen the limit where one is named, else change what the machine is built of there, or accept what is left',
  },
  'extension-failed': {
    severity: 'warning',
    mend: 'tell the authors of the named extension, or turn it off',
  },
  'no-rotation': {
    severity: 'error',
    mend: 'check the pattern, the tempo in take.jsonc and which channels were recorded',
  },
  'silent-track': { severity: 'warning', mend: 'check the recording: nothing was heard on this track' },
  'bad-samples': {
    severity: 'warning',
    mend: 'export the recording again; samples that are not numbers were taken as silence',
  },
  'marker-outside': { severity: 'warning', mend: 'check that the markers belong to this recording' },
  'header-disagrees': {
    severity: 'warning',
    mend: 'export the recording again; what could be read was used',
  },
  'unreadable-marker': { severity: 'warning', mend: 'correct the marker in its file' },
  'replaced-recording': {
    severity: 'warning',
    mend: 'give each recording a folder of its own; if it is the old one in another form, write the "settings" of its day into take.jsonc',
  },
  'rounded-times': {
    severity: 'warning',
    mend: 'export the markers with more decimal places, or let the recording itself lie beside them',
  },
  'unknown-instant': {
    severity: 'warning',
    mend: 'give "microphoneMm" for every channel or for none, and sound to tell each perceived onset from',
  },
  'repeated-marker': {
    severity: 'note',
    mend: 'nothing to do; to be rid of this, export the markers once',
  },
  'unused-file': { severity: 'note', mend: 'nothing to do if the file is not part of the take' },
  corrected: {
    severity: 'note',
    mend: 'nothing to do; to take a correction back, delete its row in corrections.csv',
  },
  'unused-correction': { severity: 'warning', mend: 'correct the row in corrections.csv, or delete it' },
  'unknown-sound': {
    severity: 'note',
    mend: 'name the sound under "labels" or the track under "tracks" in take.jsonc',
  },
} as const satisfies Record<string, { severity: 'note' | 'warning' | 'error'; mend: string }>;

export type FindingKind = keyof typeof catalogue;

export const findingKinds = Object.keys(catalogue) as [FindingKind, ...FindingKind[]];

/** A finding with its catalogue's severity and mend; `message` is the sentence that states it. */
export function finding<D extends object>(kind: FindingKind, message: string, details?: D) {
  return { kind, severity: catalogue[kind].severity, ...(details as D), message, mend: catalogue[kind].mend };
}
