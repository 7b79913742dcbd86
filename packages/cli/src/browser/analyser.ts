// The page of the analyser: takes files, hands them to a worker, shows the report that comes back. Nothing is sent anywhere.
import { droppedFiles } from './dropped-files.js';
import { makeLive } from './live-plots.js';
import type { Answer, Job } from './messages.js';

type Done = Extract<Answer, { kind: 'done' }>;

const part = <T extends HTMLElement>(id: string): T => document.getElementById(id) as T;

/** A script that the page carries, packed. @throws TypeError in a browser that cannot unpack it (older than about 2023) */
async function unpacked(id: string): Promise<string> {
  const bytes = Uint8Array.from(atob(JSON.parse(part(id).textContent ?? '""') as string), (char) => char.charCodeAt(0));
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream('gzip'))).text();
}

const files = new Map<string, File>();
let worker: Worker | undefined;
let result: Done | undefined;
let letGo: (() => void) | undefined;

function add(more: Iterable<File>): void {
  for (const file of more) files.set(`${file.name}/${file.size}/${file.lastModified}`, file);
  list();
}

function list(): void {
  part('list').replaceChildren(
    ...[...files.values()].map((file) => {
      const item = document.createElement('li');
      item.textContent = `${file.name}, ${size(file.size)}`;
      return item;
    }),
  );
  part<HTMLButtonElement>('go').disabled = files.size === 0;
  part('clear').hidden = files.size === 0;
  say(files.size === 0 ? 'No file chosen' : `${files.size} ${files.size === 1 ? 'file' : 'files'} chosen`);
}

function size(bytes: number): string {
  return bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}

/** For who does not see the page change. */
function say(words: string): void {
  part('status').textContent = words;
}

function trouble(lines: readonly string[]): void {
  part('trouble').replaceChildren(
    ...lines.map((line) => {
      const each = document.createElement('p');
      each.textContent = line;
      return each;
    }),
  );
}

async function start(): Promise<void> {
  const rate = part<HTMLInputElement>('rate').valueAsNumber;
  trouble([]);
  working(true);
  const [code, script] = await Promise.all([unpacked('worker'), unpacked('report-script')]);
  const job: Job = {
    files: [...files.values()],
    redact: part<HTMLInputElement>('redact').checked,
    script,
    ...(rate > 0 ? { rate } : {}),
  };
  const address = URL.createObjectURL(new Blob([code], { type: 'text/javascript' }));
  worker = new Worker(address);
  worker.onmessage = ({ data }: MessageEvent<Answer>) => take(data);
  worker.onerror = (event) => {
    end();
    trouble([`the analysis stopped: ${event.message}`]);
  };
  worker.postMessage(job);
  URL.revokeObjectURL(address);
}

function working(on: boolean): void {
  part('form').hidden = on;
  part('work').hidden = !on;
  part('doing').textContent = 'Reading';
  part<HTMLProgressElement>('progress').removeAttribute('value');
  if (on) part('stop').focus();
}

function end(): void {
  worker?.terminate();
  worker = undefined;
  working(false);
}

function take(answer: Answer): void {
  if (answer.kind === 'progress') {
    // The bytes are read long before the last rule has looked at them.
    const judging = answer.share >= 1;
    part('doing').textContent = judging ? 'Judging' : `Reading ${answer.name}, ${Math.floor(100 * answer.share)} %`;
    const bar = part<HTMLProgressElement>('progress');
    if (judging) bar.removeAttribute('value');
    else bar.value = answer.share;
    return;
  }
  end();
  const faults = answer.kind === 'refused' ? answer.faults : answer.unusable;
  if (faults !== undefined) trouble(faults);
  else if (answer.kind === 'done') {
    result = answer;
    void show(answer);
  }
}

/** One section after the other, each in a task of its own, so that the page answers meanwhile. */
async function show({ parts }: Done): Promise<void> {
  const place = part('result');
  place.innerHTML = parts.head;
  const main = document.createElement('main');
  main.id = 'report';
  main.tabIndex = -1;
  place.append(main);
  part('start').hidden = true;
  part('done').hidden = false;
  scrollTo(0, 0);
  for (const section of parts.sections) {
    await new Promise((resolve) => setTimeout(resolve));
    main.insertAdjacentHTML('beforeend', section);
  }
  letGo = makeLive(place, parts.data);
  say(place.querySelector('h1')?.textContent ?? '');
  place.dataset.shown = '';
}

function again(): void {
  letGo?.();
  letGo = undefined;
  result = undefined;
  const place = part('result');
  place.replaceChildren();
  delete place.dataset.shown;
  part('done').hidden = true;
  part('start').hidden = false;
  part('files').focus();
}

function save(name: string, content: string, type: string): void {
  const address = URL.createObjectURL(new Blob([content], { type }));
  const link = document.createElement('a');
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

const drop = part('drop');
const input = part<HTMLInputElement>('files');
input.addEventListener('change', () => {
  add(input.files ?? []);
  input.value = '';
});
// Anywhere on the page: a file dropped beside the box must not open in its place.
addEventListener('dragover', (event) => {
  event.preventDefault();
  drop.classList.add('over');
});
addEventListener('dragleave', () => drop.classList.remove('over'));
addEventListener('drop', (event) => {
  event.preventDefault();
  drop.classList.remove('over');
  if (event.dataTransfer === null || worker !== undefined || result !== undefined) return;
  droppedFiles(event.dataTransfer).then(add, () =>
    trouble(['the files could not be read: choose them with the button instead']),
  );
});
part('form').addEventListener('submit', (event) => {
  event.preventDefault();
  start().catch(() => {
    end();
    trouble(['this browser is too old for this page: use one from 2023 or later']);
  });
});
part('clear').addEventListener('click', () => {
  files.clear();
  list();
});
part('stop').addEventListener('click', () => {
  end();
  say('Stopped');
});
part('again').addEventListener('click', again);
part('print').addEventListener('click', () => print());
part('save-json').addEventListener('click', () => save('telltale.json', result?.json ?? '', 'application/json'));
part('save-report').addEventListener('click', () => save('telltale.html', result?.page ?? '', 'text/html'));
