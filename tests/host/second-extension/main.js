// A second extension: adds what is in checks.mjs to every analysis, until it is disposed of.
const vscode = require('vscode');

exports.activate = async (context) => {
  const shimwright = await vscode.extensions.getExtension('shimwright.shimwright').activate();
  const registration = shimwright
    .getApi(1)
    .registerModule(vscode.Uri.joinPath(context.extensionUri, 'checks.mjs'));
  return { dispose: () => registration.dispose() };
};
