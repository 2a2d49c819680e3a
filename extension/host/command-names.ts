/** Every command, without the prefix. The last two carry arguments and stand in no menu. */
export const commandNames = [
  'analyseTake',
  'analyseStaleTakes',
  'createMachine',
  'createDemoMachine',
  'createTake',
  'openReport',
  'reviewSettings',
  'acceptAllSettings',
  'acceptSomeSettings',
  'enterFittedSettings',
  'writeWorkSheet',
  'showBarrel',
  'showNext',
  'showTempo',
  'saveVoices',
  'openStrokes',
  'commitCalibration',
  'compareTakes',
  'compareCommits',
  'copyComparison',
  'refreshTakes',
  'showLog',
  'notePin',
  'showFinding',
] as const;

export type CommandName = (typeof commandNames)[number];
