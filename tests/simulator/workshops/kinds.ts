/** Not a finding: the advice names the take that it takes for the newest, and why. */
export const newestTold = 'newest take told';

/** Which kinds of finding say what is true in a situation. The one place to add to when a kind is added to the catalogue. */
export const ideas = {
  rounded: ['rounded-times'],
  referenceScatter: ['reference-scatter', 'unrepeatable'],
  unrepeatable: ['unrepeatable'],
  pinScatter: ['pin-scatter'],
  pinError: ['pin-error'],
  sectorEdge: ['sector-edge'],
  fewTurns: ['too-few-hits'],
  wear: ['drifts'],
  moved: ['moved-unnoted', 'work-not-noted', 'slipped'],
  swapped: ['labels-swapped', 'record-in-doubt'],
  nextJoint: ['wrong-place', 'record-in-doubt'],
  joints: ['other-sectors', 'record-in-doubt'],
  coupled: ['moves-others', 'record-in-doubt'],
  notDone: ['work-not-done', 'no-effect', 'record-in-doubt'],
  notNoted: ['work-not-noted', 'record-in-doubt'],
  doneTwice: ['work-done-twice', 'record-in-doubt'],
  oneMore: ['miscounted', 'record-in-doubt'],
  slipped: ['slipped', 'moved-unnoted', 'work-not-noted'],
  sameRecording: ['same-recording'],
  undated: [newestTold],
  channelOff: ['channel-off'],
  sectorOff: ['sector-off'],
  mirrored: ['mirrored-pattern'],
  otherTune: ['other-tune', 'perhaps-other-tune'],
  pinsMissing: ['pins-missing'],
  alike: ['ambiguous-rotation', 'sectors-alike'],
  boundary: ['sector-boundary'],
  channelsSwapped: ['channels-swapped'],
  stopped: ['stopped'],
  misplaced: ['misplaced-pin'],
  outOfReach: ['out-of-reach'],
  notHeard: ['not-heard'],
  noEffect: ['no-effect', 'work-not-done'],
  wrongWay: ['wrong-way-effect'],
  drift: ['tempo-drift'],
  wobble: ['shaft-wobble'],
} as const satisfies Record<string, readonly string[]>;

/**
 * True of nearly every machine in some measure (no pin sits exactly, no drive is perfectly steady): a false alarm only in
 * situations that are made without it.
 */
export const mostlyTrue: readonly string[] = ['pin-error', 'tempo-drift', 'shaft-wobble'];

export type Idea = keyof typeof ideas;

export const saysSo = (kinds: readonly string[], idea: Idea) => {
  const accepted: readonly string[] = ideas[idea];
  return kinds.some((kind) => accepted.includes(kind));
};
