//! Lists the files of `assets/`, so that the program carries them; the style sheets become one.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let folder = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default()).join("assets");
    println!("cargo::rerun-if-changed=assets");
    println!("cargo::rerun-if-changed=build.rs");
    let mut files = Vec::new();
    list(&folder, &mut files)?;
    files.sort();
    let out = PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default());
    let sheets = |file: &PathBuf| file.extension().is_some_and(|kind| kind == "css");
    let mut styles: Vec<PathBuf> = files.extract_if(.., |file| sheets(file)).collect();
    // Faces and tokens come before what uses them, paper after what it takes away.
    styles.sort_by_key(|file| match file.file_name().and_then(|name| name.to_str()) {
        Some("fonts.css") => 0,
        Some("page.css") => 1,
        Some("print.css") => 3,
        _ => 2,
    });
    let sheet: String = styles.iter().map(fs::read_to_string).collect::<Result<_, _>>()?;
    fs::write(out.join("tarn.css"), sheet)?;
    let mut code = String::from("static ASSETS: &[(&str, &[u8])] = &[\n");
    for file in files {
        let name = file.strip_prefix(&folder).unwrap_or(&file).to_string_lossy().replace('\\', "/");
        let _ = writeln!(code, "    ({name:?}, include_bytes!({:?})),", file.display().to_string());
    }
    let _ = writeln!(
        code,
        "    (\"tarn.css\", include_bytes!({:?})),",
        out.join("tarn.css").display().to_string()
    );
    code.push_str("];\n");
    fs::write(out.join("assets.rs"), code)
}

fn list(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    let entries = match fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(err) if err.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(err) => return Err(err),
    };
    for entry in entries {
        let path = entry?.path();
        if path.is_dir() { list(&path, files)? } else { files.push(path) }
    }
    Ok(())
}
