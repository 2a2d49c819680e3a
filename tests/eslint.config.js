// Type-aware rules, and the one direction in which imports may run (DEVELOPERS.md, "Layers").
import tseslint from 'typescript-eslint';

/** Folders of the core in the order of the data's way; each may import what stands before it, never after. */
const order = [
  'numbers',
  'input',
  'results',
  'machine',
  'words',
  'take',
  'clocks',
  'rotation',
  'hits',
  'strokes',
  'checks',
  'advice',
  'report',
];

const hostModules = {
  regex: '^(vscode|node:.*|fs|path|os|child_process|worker_threads|buffer|url|crypto)$',
  message: 'analysis/ is pure: take what you need of the host through ports.ts',
};
const hostFolders = {
  regex: '/(extension|samples|tests)/',
  message: 'analysis/ never imports from extension/, samples/ or tests/',
};
const hostGlobals = [
  'window',
  'document',
  'navigator',
  'process',
  'Buffer',
  'require',
  'localStorage',
  'fetch',
  'setTimeout',
  'setInterval',
  '__dirname',
  '__filename',
].map((name) => ({ name, message: 'analysis/ is pure: take what you need of the host through ports.ts' }));

const layers = order.map((folder, i) => ({
  files: [`analysis/${folder}/**/*.ts`],
  rules: {
    'no-restricted-imports': [
      'error',
      {
        patterns: [
          hostModules,
          hostFolders,
          ...order.slice(i + 1).map((later) => ({
            regex: `^(\\.\\./)+${later}/`,
            message: `data goes one way: ${folder}/ comes before ${later}/`,
          })),
          ...(i < order.length
            ? [{ regex: '^(\\.\\./)+pipeline', message: 'the pipeline imports the stages, not they it' }]
            : []),
        ],
      },
    ],
  },
}));

/** Files of strangers are opened and written by these alone: links, pipes, devices and half-written files are met there. */
const doors = [
  'extension/files/{plain,read,write,lock,temporary,unfinished,new-folder,inbox,capture}.ts',
  'extension/host/disk.ts',
  // Their own files, beside the bundle.
  'extension/files/solver-node.ts',
  'extension/host/start-web.ts',
  // A module of another extension, and recordings that a person chose.
  'extension/host/web.ts',
  'extension/host/create-take.ts',
];
const opening = [
  ...[
    'readFile',
    'writeFile',
    'appendFile',
    'open',
    'copyFile',
    'cp',
    'rename',
    'link',
    'symlink',
    'rm',
    'unlink',
    'truncate',
  ],
].flatMap((name) => [name, `${name}Sync`]);
const throughTheDoor =
  'files are opened and written through extension/files/ and extension/host/disk.ts (DEVELOPERS.md, "Tests")';
const openingPaths = ['node:fs', 'node:fs/promises', 'fs', 'fs/promises'].map((name) => ({
  name,
  importNames: [...opening, 'createReadStream', 'createWriteStream', 'default'],
  message: throughTheDoor,
}));

/** Rooms of the extension, each with the rooms that it may import from. */
const rooms = {
  common: [],
  files: ['common'],
  work: ['common', 'files'],
  protocol: [],
  view: ['common', 'protocol'],
  cli: ['common', 'files', 'work'],
  host: ['common', 'files', 'work', 'protocol'],
};
const closedTo = (room) => ({
  regex: `^(\\.\\./)+(${Object.keys(rooms)
    .filter((other) => other !== room && !rooms[room].includes(other))
    .join('|')})/`,
  message: `extension/${room}/ imports from ${rooms[room].join(', ') || 'no other room of the extension'}`,
});
const ofRooms = Object.keys(rooms).flatMap((room) => {
  const files = [`extension/${room}/**/*.ts`];
  const patterns = [closedTo(room)];
  return [
    { files, rules: { 'no-restricted-imports': ['error', { patterns, paths: openingPaths }] } },
    {
      files: doors.filter((door) => door.startsWith(`extension/${room}/`)),
      rules: { 'no-restricted-imports': ['error', { patterns }] },
    },
  ].filter((rule) => rule.files.length > 0);
});
const onlyDoorsOpen = {
  files: ['extension/**/*.ts'],
  ignores: doors,
  rules: {
    'no-restricted-syntax': [
      'error',
      {
        selector:
          "MemberExpression[object.property.name='fs'][property.name=/^(readFile|writeFile|rename|delete|copy)$/]",
        message: throughTheDoor,
      },
    ],
  },
};

export default tseslint.config(
  { ignores: ['**/dist/**', '**/node_modules/**', 'demo-machine/**'] },
  {
    files: ['**/*.ts'],
    extends: [tseslint.configs.recommendedTypeChecked],
    languageOptions: { parserOptions: { project: '../tsconfig.json', tsconfigRootDir: import.meta.dirname } },
    rules: {
      '@typescript-eslint/no-unused-vars': ['error', { argsIgnorePattern: '^_' }],
      '@typescript-eslint/switch-exhaustiveness-check': 'error',
      '@typescript-eslint/consistent-type-imports': 'error',
      'max-lines': ['error', { max: 400, skipBlankLines: true, skipComments: true }],
      eqeqeq: 'error',
    },
  },
  {
    files: ['analysis/**/*.ts', 'extension/**/*.ts', 'samples/**/*.ts'],
    rules: { '@typescript-eslint/max-params': ['error', { max: 5 }] },
  },
  {
    files: ['analysis/**/*.ts'],
    rules: {
      'no-restricted-globals': ['error', ...hostGlobals],
      'no-restricted-imports': ['error', { patterns: [hostModules, hostFolders] }],
    },
  },
  ...layers,
  ...ofRooms,
  onlyDoorsOpen,
);
