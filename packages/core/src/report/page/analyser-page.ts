import { gzipSync } from 'fflate';
import { STYLE } from '../html-style.js';
import { base64, escaped, pageOf } from '../page-shell.js';
import { PAGE_STYLE } from './page-style.js';

export interface AnalyserParts {
  /** What runs in the page, and what it starts in a worker: both bundled, as text. */
  readonly script: string;
  readonly worker: string;
  /** The script of a report that is saved from the page. */
  readonly report: string;
  readonly cautions: readonly string[];
  readonly version: string;
}

const ANALYSER_STYLE = `
.intro { padding: 1.6rem 1rem 2rem; max-width: 46rem; } .intro h1 { border: 0; padding: 0; font-size: clamp(1.5rem, 4.5vw, 2.2rem); line-height: 1.15; } .intro .lead { font-size: 1.1rem; }
.drop { display: block; border: 2px dashed var(--quiet); border-radius: .8rem; padding: 2.2rem 1rem; text-align: center; background: var(--panel); margin: 1.2rem 0 .8rem; cursor: pointer; } .drop.over { border-color: var(--t0); border-style: solid; } .drop:focus-within { outline: 3px solid var(--t1); outline-offset: 2px; } .drop b { display: block; font-size: 1.15rem; margin-bottom: .3rem; } .drop { position: relative; } .choose { display: block; width: max-content; margin: 1rem auto 0; border: 1px solid var(--quiet); border-radius: .4rem; padding: .4rem 1.1rem; background: var(--ground); }
.files { padding-left: 1.2rem; } .files:empty { display: none; } .fields { display: flex; flex-wrap: wrap; gap: .6rem 1.4rem; align-items: center; margin: .7rem 0; } .fields label { display: inline-flex; gap: .5rem; align-items: center; } .fields input[type=number] { width: 6.5rem; font: inherit; padding: .25rem .4rem; color: var(--ink); background: var(--ground); border: 1px solid var(--quiet); border-radius: .3rem; }
button.main { font: inherit; font-weight: 650; background: var(--ink); color: var(--ground); border: 0; border-radius: .5rem; padding: .65rem 1.4rem; cursor: pointer; } button.plain { font: inherit; color: var(--ink); background: var(--panel); border: 1px solid var(--line); border-radius: .5rem; padding: .6rem 1rem; cursor: pointer; } button.main:disabled { background: var(--line); color: var(--quiet); cursor: default; } .work progress { width: 100%; height: 1rem; accent-color: var(--t0); } .trouble { border-left: .3rem solid var(--stop); padding-left: .8rem; } .trouble:empty { display: none; }
.done { display: flex; flex-wrap: wrap; gap: .5rem; padding: 1rem 1rem 0; max-width: 70rem; margin: 0 auto; } .done button { font: inherit; color: var(--ink); background: var(--panel); border: 1px solid var(--line); border-radius: .4rem; padding: .4rem .9rem; min-height: 2.4rem; cursor: pointer; } [hidden] { display: none !important; }
#result > main section { content-visibility: auto; contain-intrinsic-size: auto 900px; } @media print { .done { display: none; } #result > main section { content-visibility: visible; } }
`;

/**
 * The whole analyser as one page: files are dropped in, judged in a worker, and shown as the report. It can reach no
 * network: its policy allows its own script by hash, a worker made of its own text, and nothing else.
 */
export function analyserPage({ script, worker, report, cautions, version }: AnalyserParts): string {
  return pageOf({
    title: 'telltale: assess recordings on this device',
    style: STYLE + PAGE_STYLE + ANALYSER_STYLE,
    script,
    data: { worker: packed(worker), 'report-script': packed(report) },
    policy: ['worker-src blob:'],
    body: [
      '<div id="start">',
      '<main class="intro">',
      '<h1>What do the recordings of this car show?</h1>',
      '<p class="lead">Drop in the logs of its control units, and what was read out of them. They are judged here, on this device: this page can reach no network, and keeps nothing.</p>',
      '<form id="form">',
      '<label class="drop" id="drop"><b>Drop files or a folder here</b>Recordings (CSV, also gzip), stored values, code lists; a vehicle profile, column map, walk-round sheet or price list (YAML, JSON)<span class="choose">Choose files</span><input class="aside" id="files" type="file" multiple aria-describedby="about"></label>',
      '<p class="quiet" id="about">All files are taken as one car. The same recording twice is counted once.</p>',
      '<ul class="files" id="list" aria-label="Files that were chosen"></ul>',
      '<div class="fields"><label><input id="redact" type="checkbox"> leave out file names, identification numbers, places and persons</label><label>rows per second, only for a log without time <input id="rate" type="number" min="0" max="100000" step="any" inputmode="decimal"></label></div>',
      '<p><button class="main" id="go" disabled>Assess</button> <button type="button" class="plain" id="clear" hidden>Remove all files</button></p>',
      '</form>',
      '<div class="work" id="work" hidden><p id="doing">Reading</p><progress id="progress" max="1" aria-labelledby="doing"></progress><p><button type="button" class="plain" id="stop">Stop</button></p></div>',
      '<div class="trouble" id="trouble" role="alert"></div>',
      '<h2>Cautions</h2>',
      `<ul>${cautions.map((each) => `<li>${escaped(each)}</li>`).join('')}</ul>`,
      `<p class="quiet">telltale ${escaped(version)}</p>`,
      '</main>',
      '</div>',
      '<section class="done" id="done" aria-label="The result" hidden><button id="save-report">Save the report (HTML)</button><button id="save-json">Save the data (JSON)</button><button id="print">Print</button><button id="again">Other files</button></section>',
      '<div id="result"></div>',
      '<p class="aside" role="status" id="status"></p>',
    ],
  });
}

/** Gzip (RFC 1952) as base64: a third of the text. Every browser unpacks it by itself. Same text, same bytes. */
function packed(text: string): string {
  return base64(gzipSync(new TextEncoder().encode(text), { level: 9, mtime: 0 }));
}
