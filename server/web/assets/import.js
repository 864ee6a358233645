// Bringing in: dropped files and folders are sent with their paths; what is under way is asked for and shown. Without this script the form sends files by itself, and the page is loaded anew by hand.
const byId = (id) => document.getElementById(id);
const token = document.body.dataset.token;

const form = byId("bring");
if (form) {
  byId("orfolder").hidden = !("webkitdirectory" in byId("dir"));
  const drop = byId("drop");
  let request = null;

  // walk lists the files of a dropped entry, with their paths below what was dropped.
  const walk = async (entry) => {
    if (entry.isFile) {
      const file = await new Promise((resolve, reject) => entry.file(resolve, reject));
      return [{ file, path: entry.fullPath.replace(/^\//, "") }];
    }
    const reader = entry.createReader();
    const found = [];
    for (;;) { // a reader gives a part of a folder at a time, and an empty list at the end
      const part = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
      if (part.length === 0) return found;
      for (const inner of part) found.push(...(await walk(inner)));
    }
  };

  const chosen = (list) => [...list].map((file) => ({ file, path: file.webkitRelativePath || file.name }));

  // below takes a folder's own name away when everything lies in it, so that paths in a manifest of the folder are right.
  const below = (list) => {
    const top = list[0].path.split("/")[0] + "/";
    return list.every((f) => f.path.startsWith(top)) ? list.map((f) => ({ ...f, path: f.path.slice(top.length) })) : list;
  };

  const wrong = (text) => {
    byId("sendingwrong").textContent = text;
    byId("sendingwrong").hidden = false;
    byId("sending").hidden = true;
    form.hidden = false;
  };

  const send = (list) => {
    if (list.length === 0) return;
    const data = new FormData();
    for (const { file, path } of below(list)) {
      data.append("path", path);
      data.append("file", file, file.name);
    }
    byId("sendingwrong").hidden = true;
    byId("sending").hidden = false;
    form.hidden = true;
    request = new XMLHttpRequest(); // fetch can't tell how much was sent
    request.open("POST", "/import");
    request.setRequestHeader("Accept", "application/json");
    request.setRequestHeader("X-Platarium-Token", token);
    const begun = performance.now();
    request.upload.onprogress = (e) => {
      const seconds = (performance.now() - begun) / 1000;
      const rate = e.loaded / 1e6 / Math.max(seconds, 0.1);
      const left = Math.round((e.total - e.loaded) / 1e6 / Math.max(rate, 0.001));
      byId("sendingbar").value = (100 * e.loaded) / e.total;
      byId("sendingwords").textContent = `Sending ${list.length} files: ${(e.loaded / 1e6).toFixed(1)} of ${(e.total / 1e6).toFixed(1)} MB, ${rate.toFixed(1)} MB a second, about ${left} s left.`;
    };
    request.onload = () => {
      let answer = {};
      try { answer = JSON.parse(request.responseText); } catch { /* said below */ }
      if (request.status === 200) location.assign("/import");
      else wrong(answer.error || "The files weren't taken.");
    };
    request.onerror = () => wrong("The server can't be reached.");
    request.onabort = () => wrong("Stopped: nothing was kept.");
    request.send(data);
  };

  form.addEventListener("submit", (e) => {
    e.preventDefault();
    send(chosen(byId("file").files));
  });
  byId("dir").addEventListener("change", () => send(chosen(byId("dir").files)));
  byId("stop").addEventListener("click", () => request && request.abort());
  drop.addEventListener("dragover", (e) => { e.preventDefault(); drop.classList.add("over"); });
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", async (e) => {
    e.preventDefault();
    drop.classList.remove("over");
    const entries = [...e.dataTransfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
    const list = [];
    try {
      for (const entry of entries) list.push(...(await walk(entry)));
      send(list.length ? list : chosen(e.dataTransfer.files));
    } catch (err) {
      wrong(`The files can't be read: ${err.message}`);
    }
  });
}

if (byId("under")) {
  const ask = async () => {
    try {
      const answer = await fetch("/import/state", { headers: { Accept: "application/json" } });
      if (!answer.ok) return location.reload();
      const now = await answer.json();
      if (!["receiving", "looking", "running"].includes(now.state)) return location.reload();
      byId("underwords").textContent = now.said;
      byId("underbar").value = now.percent;
    } catch { /* asked again */ }
    setTimeout(ask, 1000);
  };
  setTimeout(ask, 500);
}
