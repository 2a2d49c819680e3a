/** The frame of a page that is only looked at. */
import { escaped } from './report-html.ts';

/**
 * Nothing runs and nothing loads but the style sheet: names in what is shown come from strangers' files.
 *
 * @param source  where the editor serves a page's files from
 * @param content markup in which every name is text already
 */
export function stillPage(source: string, style: string, title: string, content: string): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src ${source}; base-uri 'none'; form-action 'none'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${title}</title>
<link rel="stylesheet" href="${escaped(style)}">
</head>
<body>
<div id="page" class="preview">
${content}
</div>
</body>
</html>
`;
}
