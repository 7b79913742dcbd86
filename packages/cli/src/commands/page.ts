import { ABORT_CAUTIONS, analyserPage, GENERAL_CAUTIONS } from '@telltale/core';
import { EXIT } from '../exit-code.js';
import { browserScript, writePage } from '../page.js';
import { oneLine, type Terminal } from '../terminal/output.js';

/** `telltale page FILE`: the whole analyser as one file. @returns the exit code. */
export async function pageCommand(
  file: string,
  flags: { readonly quiet?: boolean | undefined },
  terminal: Terminal,
  version: string,
): Promise<number> {
  const [script, worker, report] = await Promise.all(['analyser', 'analyser-worker', 'report'].map(browserScript));
  const html = analyserPage({
    script: script!,
    worker: worker!,
    report: report!,
    cautions: [...GENERAL_CAUTIONS, ...ABORT_CAUTIONS],
    version,
  });
  await writePage(file, html);
  if (!flags.quiet)
    terminal.out(`${oneLine(file)}: ${(html.length / 1e6).toFixed(2)} MB; open it in a browser and drop logs in\n`);
  return EXIT.done;
}
