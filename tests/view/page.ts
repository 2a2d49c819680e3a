/**
 * The report page in a real browser, outside the editor: its own frame, script and style from a server on this
 * machine, and a stand-in for what the editor gives a page.
 */
import { existsSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { build } from 'esbuild';
import { type Browser, type Page, chromium } from 'playwright-core';
import { reportHtml } from '../../extension/host/report-html.ts';
import type { ToHost, ToPage } from '../../extension/protocol/messages.ts';
import { type ThemeName, themes } from './themes.ts';

export const chromiumPath = process.env.CHROMIUM ?? '/usr/bin/chromium';
export const noBrowser = existsSync(chromiumPath) ? null : `there is no Chromium at ${chromiumPath}`;

/** With these, Chromium keeps to this machine. */
export const chromiumFlags = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--autoplay-policy=no-user-gesture-required',
];

export interface OpenPage {
  readonly page: Page;
  /** What the page has sent to the editor. */
  readonly sent: ToHost[];
  /** Everything that went wrong in it: errors, refused loads. */
  readonly complaints: string[];
  post(message: ToPage): Promise<void>;
  setTheme(name: ThemeName): Promise<void>;
  close(): Promise<void>;
}

export class PageHouse {
  private constructor(
    private readonly browser: Browser,
    private readonly server: Server,
    private readonly address: string,
  ) {}

  static async open(): Promise<PageHouse> {
    const { outputFiles } = await build({
      entryPoints: { view: 'extension/view/page.ts', style: 'extension/view/page.css' },
      bundle: true,
      format: 'esm',
      target: 'es2022',
      outdir: 'out',
      write: false,
      logLevel: 'warning',
    });
    const text = (end: string) => outputFiles.find(({ path }) => path.endsWith(end))!.text;
    const [script, style] = [text('view.js'), text('style.css')];
    const server = createServer((request, response) => {
      const { pathname, searchParams } = new URL(request.url ?? '/', 'http://localhost');
      const send = (kind: string, body: string) => {
        response.writeHead(200, { 'content-type': `${kind}; charset=utf-8` });
        response.end(body);
      };
      if (pathname === '/view.js') return send('text/javascript', script);
      if (pathname === '/style.css') return send('text/css', style);
      if (pathname === '/')
        return send('text/html', frame((searchParams.get('theme') ?? 'dark') as ThemeName));
      response.writeHead(404).end();
    });
    await new Promise<void>((settle) => server.listen(0, '127.0.0.1', settle));
    const browser = await chromium.launch({
      executablePath: chromiumPath,
      headless: true,
      args: chromiumFlags,
    });
    return new PageHouse(browser, server, `http://127.0.0.1:${(server.address() as AddressInfo).port}/`);
  }

  /** @param onMessage the editor's part: called with each message of the page */
  async page(
    theme: ThemeName,
    onMessage: (message: ToHost) => void = () => undefined,
    width = 1180,
    height = 900,
  ): Promise<OpenPage> {
    const page = await this.browser.newPage({ viewport: { width, height } });
    const sent: ToHost[] = [];
    const complaints: string[] = [];
    page.on('console', (message) => {
      if (['error', 'warning'].includes(message.type())) complaints.push(message.text());
    });
    page.on('pageerror', (error) => complaints.push(error.message));
    await page.exposeFunction('toEditor', (message: ToHost) => {
      sent.push(message);
      onMessage(message);
    });
    await page.goto(`${this.address}?theme=${theme}`);
    return {
      page,
      sent,
      complaints,
      // Done once the page's own listener, which was there first, has had it.
      post: (message) =>
        page.evaluate(
          (data) =>
            new Promise<void>((settle) => {
              window.addEventListener('message', () => settle(), { once: true });
              window.postMessage(data, '*');
            }),
          message,
        ),
      setTheme: (name) =>
        page.evaluate(
          ([kind, colours]) => {
            document.body.className = kind;
            for (const [key, value] of Object.entries(colours))
              document.documentElement.style.setProperty(`--vscode-${key}`, value);
          },
          [themes[name].kind, themes[name].colours] as const,
        ),
      close: () => page.close(),
    };
  }

  async close(): Promise<void> {
    await this.browser.close();
    await new Promise((settle) => this.server.close(settle));
  }
}

/** The page's own frame, with what an editor puts before it. */
function frame(theme: ThemeName): string {
  const nonce = 'bm9uY2UtZm9yLXRlc3Rz';
  const { kind, colours } = themes[theme];
  const editor = `
    for (const [key, value] of Object.entries(${JSON.stringify(colours)}))
      document.documentElement.style.setProperty('--vscode-' + key, value);
    window.refused = [];
    document.addEventListener('securitypolicyviolation', ({ violatedDirective, blockedURI, sourceFile, lineNumber, sample }) =>
      window.refused.push([violatedDirective, blockedURI, sourceFile, lineNumber, sample].join(' ')));
    window.acquireVsCodeApi = () => ({
      postMessage: (message) => void window.toEditor(message),
      getState: () => JSON.parse(sessionStorage.getItem('kept') ?? 'null') ?? undefined,
      setState: (state) => sessionStorage.setItem('kept', JSON.stringify(state)),
    });`;
  return reportHtml('/view.js', '/style.css', nonce).replace(
    '<body>',
    () => `<body class="${kind}"><script nonce="${nonce}">${editor}</script>`,
  );
}
