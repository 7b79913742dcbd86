/** What is looked for in a folder: logs and side files; other files were not meant. */
const WANTED = /\.(?:csv|txt|tsv|log|gz|ya?ml|json)$/i;

/** Files that were dropped, and those in dropped folders (not deeper, as on the command line). */
export async function droppedFiles(transfer: DataTransfer): Promise<File[]> {
  // Entries have to be asked for before the first wait: the transfer is emptied then.
  const entries = [...transfer.items].flatMap((item) => item.webkitGetAsEntry() ?? []);
  if (entries.length === 0) return [...transfer.files];
  const found: File[] = [];
  for (const entry of entries) {
    if (entry.isFile) found.push(await fileOf(entry as FileSystemFileEntry));
    else
      for (const inner of await listed(entry as FileSystemDirectoryEntry))
        if (inner.isFile && WANTED.test(inner.name)) found.push(await fileOf(inner as FileSystemFileEntry));
  }
  return found;
}

function fileOf(entry: FileSystemFileEntry): Promise<File> {
  return new Promise((resolve, reject) => entry.file(resolve, reject));
}

/** A reader hands out a folder in pieces; an empty piece is the end. */
async function listed(folder: FileSystemDirectoryEntry): Promise<FileSystemEntry[]> {
  const reader = folder.createReader();
  const all: FileSystemEntry[] = [];
  for (;;) {
    const some = await new Promise<FileSystemEntry[]>((resolve, reject) => reader.readEntries(resolve, reject));
    if (some.length === 0) return all;
    all.push(...some);
  }
}
