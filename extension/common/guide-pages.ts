/** Pages in the order in which they are needed; their titles are the files' own. */
export const guidePages = [
  ['machine', 'Describe your machine'],
  ['recording', 'Record a take'],
  ['report', 'Read the report'],
  ['findings', 'What is looked for, and what findings say'],
  ['advice', 'Advice, and the work on the machine'],
  ['commands', 'Commands, in the terminal and in the editor'],
  ['files', 'Files: what is promised, what is kept'],
] as const;
