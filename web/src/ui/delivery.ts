import { Refused } from "../api/fetching";
import type { Received } from "../api/types";

type Entry = FileSystemEntry;

/** All files of a drop, folders walked, each with its path in the folder. */
export async function filesOfDrop(drop: DataTransfer): Promise<readonly File[]> {
  const entries = [...drop.items].flatMap((item) => item.webkitGetAsEntry() ?? []);
  if (entries.length === 0) return [...drop.files];
  return (await Promise.all(entries.map(walk))).flat();
}

async function walk(entry: Entry): Promise<readonly File[]> {
  if (entry.isFile) return [await fileOf(entry as FileSystemFileEntry)];
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  const inside: Entry[] = [];
  // A reader gives a folder in portions and an empty one at its end.
  for (let part = await portion(reader); part.length > 0; part = await portion(reader)) inside.push(...part);
  return (await Promise.all(inside.map(walk))).flat();
}

const portion = (reader: FileSystemDirectoryReader) =>
  new Promise<readonly Entry[]>((resolve, reject) => reader.readEntries(resolve, reject));

const paths = new WeakMap<File, string>();

function fileOf(entry: FileSystemFileEntry): Promise<File> {
  return new Promise((resolve, reject) =>
    entry.file((file) => {
      paths.set(file, entry.fullPath.replace(/^\//, ""));
      resolve(file);
    }, reject),
  );
}

const pathOf = (file: File) => paths.get(file) ?? (file.webkitRelativePath || file.name);

/** Send files; `tell` hears the share that has left. A fetch cannot tell that yet. */
export function upload(files: readonly File[], tell: (share: number) => void): Promise<Received> {
  const form = new FormData();
  for (const file of files) form.append("files", file, pathOf(file));
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("POST", "/api/studies");
    request.responseType = "json";
    request.upload.onprogress = ({ loaded, total }) => tell(total > 0 ? loaded / total : 0);
    request.onerror = () => reject(new Refused(0, "The connection was lost while sending. Drop the files again."));
    request.onload = () => {
      const answer = request.response as (Received & { detail?: string }) | null;
      if (request.status < 300 && answer) resolve(answer);
      else reject(new Refused(request.status, answer?.detail ?? "The files were not taken."));
    };
    request.send(form);
  });
}
