/** What an analysis writes into a take's folder; never its input. */
export const reportFileNames = [
  'report.json',
  'report.md',
  'report.svg',
  'checks.svg',
  'report.png',
] as const;
