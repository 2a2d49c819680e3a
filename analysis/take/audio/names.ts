/**
 * Endings that recordings and videos go by: where a file is asked about by name alone (the editor's menus, files that
 * are dropped), and so that one which is named so and is none is told. What a file is, its bytes say (format.ts).
 */
export const audioEndings = [
  ...['wav', 'wave', 'bwf', 'rf64', 'bw64', 'w64', 'flac', 'aif', 'aiff', 'aifc', 'au', 'snd', 'voc', 'caf'],
  ...[
    'mp2',
    'mp3',
    'ogg',
    'oga',
    'opus',
    'spx',
    'm4a',
    'm4b',
    'mp4',
    'm4v',
    'mov',
    '3gp',
    '3g2',
    'aac',
    'qoa',
  ],
  ...[
    'mka',
    'mkv',
    'webm',
    'avi',
    'wma',
    'amr',
    'tta',
    'wv',
    'mpc',
    'ape',
    'ac3',
    'eac3',
    'dts',
    'dsf',
    'dff',
  ],
];

export const audioName = new RegExp(`\\.(${audioEndings.join('|')})$`, 'i');
