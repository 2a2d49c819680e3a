/** Which kinds of finding say what is true in a situation. The one place to add to when a kind is added to the catalogue. */
export const ideas = {
  rounded: ['rounded-times', 'coarse-times', 'coarse-markers'],
  referenceScatter: ['reference-scatter', 'unrepeatable'],
  unrepeatable: ['unrepeatable'],
  pinScatter: ['pin-scatter'],
  pinError: ['pin-error'],
  sectorEdge: ['sector-edge'],
  fewTurns: ['too-few-hits'],
  wear: ['wear', 'drifting', 'steady-drift', 'lateness-drift'],
  moved: ['moved', 'moved-by-itself', 'unexplained-move', 'unexplained-change'],
  swapped: ['labels-swapped', 'swapped-adjusters', 'record-doubted'],
  nextJoint: ['wrong-adjuster', 'record-doubted'],
  joints: ['shifts-doubted', 'record-doubted'],
  coupled: ['coupled', 'coupling', 'record-doubted'],
  notDone: ['work-not-done', 'no-effect', 'record-doubted'],
  notNoted: ['work-not-noted', 'record-doubted'],
  doneTwice: ['done-twice', 'record-doubted'],
  oneMore: ['record-doubted'],
  slipped: ['slipped', 'record-doubted'],
  sameRecording: ['same-recording', 'repeated-recording', 'duplicate-recording'],
  undated: ['undated', 'undated-takes', 'take-order'],
  channelOff: ['channel-off', 'whole-step', 'channel-steps-off'],
  sectorOff: ['sector-off', 'whole-step', 'sector-steps-off'],
  mirrored: ['mirrored', 'pattern-mirrored', 'mirrored-pattern'],
  alike: ['ambiguous-rotation', 'sectors-alike'],
  boundary: ['sector-boundary', 'boundary'],
  channelsSwapped: ['channels-swapped', 'swapped-channels'],
  stopped: ['stopped', 'stop', 'stopped-and-restarted'],
  misplaced: ['misplaced-pin'],
  outOfReach: ['out-of-reach'],
  notHeard: ['not-heard', 'channel-not-heard'],
  noEffect: ['no-effect'],
  wrongWay: ['wrong-way-effect'],
  drift: ['tempo-drift'],
  wobble: ['shaft-wobble'],
} as const satisfies Record<string, readonly string[]>;

/**
 * True of nearly every machine in some measure (no pin sits exactly, no drive is perfectly steady): a false alarm only in
 * situations that are made without it.
 */
export const mostlyTrue: readonly Idea[] = ['pinError', 'drift', 'wobble'];

export type Idea = keyof typeof ideas;

export const saysSo = (kinds: Iterable<string>, idea: Idea) => {
  const accepted: readonly string[] = ideas[idea];
  return [...kinds].some((kind) => accepted.includes(kind));
};
