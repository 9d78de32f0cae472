//! The pages as a browser without scripts uses them: cookies, forms with everything that is in them, redirects. For
//! what must be seen, there is `browser`.

use crate::people::PASSWORD;
use reqwest::Url;
use reqwest::blocking::{Client, Response};
use std::collections::BTreeMap;
use std::time::Duration;

/// Someone at the pages, with cookies.
#[derive(Debug)]
pub struct Visitor {
    client: Client,
    base: Url,
}

/// A page as it was sent.
#[derive(Debug)]
pub struct Seen {
    /// The status.
    pub status: u16,
    /// Where it was found in the end.
    pub url: Url,
    /// The HTML.
    pub html: String,
}

/// A form of a page with the values that it has so far.
#[derive(Clone, Debug, Default)]
pub struct Form {
    /// Where it goes.
    pub action: String,
    /// Names and values.
    pub fields: BTreeMap<String, String>,
}

impl Visitor {
    /// Someone who has not signed in.
    pub fn at(base: &str) -> Self {
        let mut headers = reqwest::header::HeaderMap::new();
        headers.insert("accept", "text/html".parse().expect("a header"));
        let client = Client::builder()
            .cookie_store(true)
            .default_headers(headers)
            .pool_idle_timeout(Duration::from_secs(2))
            .build();
        let client = client.expect("a client can be made");
        Self { client, base: base.parse().expect("an address") }
    }

    /// The server may have moved to another port; cookies stay.
    pub fn move_to(&mut self, base: &str) {
        self.base = base.parse().expect("an address");
    }

    /// Fetches a page.
    pub fn get(&self, path: &str) -> Result<Seen, String> {
        let url = self.base.join(path).map_err(|e| e.to_string())?;
        seen(self.client.get(url).send())
    }

    /// Sends a form.
    pub fn post(&self, form: &Form) -> Result<Seen, String> {
        let url = self.base.join(&form.action).map_err(|e| e.to_string())?;
        let origin = self.base.as_str().trim_end_matches('/').to_owned();
        seen(self.client.post(url).header("origin", origin).form(&form.fields).send())
    }

    /// Signs in by the page; the page that comes after it.
    pub fn sign_in(&self, login: &str) -> Result<Seen, String> {
        let page = self.get("/sign-in")?;
        let form =
            page.form(|form| form.action.ends_with("/sign-in")).ok_or("there is no form to sign in")?;
        self.post(&form.with("login_name", login).with("password", PASSWORD))
    }
}

impl Seen {
    /// The first form that is wanted.
    pub fn form(&self, wanted: impl Fn(&Form) -> bool) -> Option<Form> {
        self.html.split("<form").skip(1).map(form).find(|form| wanted(form))
    }

    /// Whether it is the page on which one signs in.
    pub fn is_sign_in(&self) -> bool {
        self.url.path() == "/sign-in"
    }
}

impl Form {
    /// The same with another value.
    pub fn with(mut self, name: &str, value: &str) -> Self {
        self.fields.insert(name.to_owned(), value.to_owned());
        self
    }
}

fn seen(response: reqwest::Result<Response>) -> Result<Seen, String> {
    let response = response.map_err(|e| e.to_string())?;
    let (status, url) = (response.status().as_u16(), response.url().clone());
    Ok(Seen { status, url, html: response.text().map_err(|e| e.to_string())? })
}

/// Reads a form from just behind its `<form`. Enough of HTML for pages whose templates are well-formed.
fn form(html: &str) -> Form {
    let (head, rest) = html.split_once('>').unwrap_or((html, ""));
    let inside = rest.split("</form>").next().unwrap_or_default();
    let mut form = Form { action: attribute(head, "action").unwrap_or_default(), ..Form::default() };
    for tag in inside.split('<').skip(1) {
        let tag_head = tag.split('>').next().unwrap_or_default();
        let name = attribute(tag_head, "name");
        let chosen = has(tag_head, "checked")
            || !matches!(attribute(tag_head, "type").as_deref(), Some("radio" | "checkbox"));
        match (tag.split_whitespace().next().unwrap_or_default(), name) {
            ("input", Some(name)) if chosen => {
                form.fields.insert(name, attribute(tag_head, "value").unwrap_or_default());
            }
            ("textarea", Some(name)) => drop(form.fields.insert(name, String::new())),
            ("select", Some(name)) => drop(form.fields.insert(name, String::new())),
            _ => {}
        }
    }
    // a choice that nobody made is the first, or the one that is marked
    for select in inside.split("<select").skip(1) {
        let options = select.split("</select>").next().unwrap_or_default();
        let Some(name) = attribute(select.split('>').next().unwrap_or_default(), "name") else { continue };
        let heads = options.split("<option").skip(1).map(|o| o.split('>').next().unwrap_or_default());
        let all: Vec<&str> = heads.collect();
        if let Some(chosen) = all.iter().find(|head| has(head, "selected")).or(all.first()) {
            form.fields.insert(name, attribute(chosen, "value").unwrap_or_default());
        }
    }
    form
}

fn has(tag: &str, word: &str) -> bool {
    tag.split_whitespace()
        .any(|part| part.trim_end_matches('/') == word || part.starts_with(&format!("{word}=")))
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
    let value = rest.split('"').next()?;
    Some(
        value
            .replace("&quot;", "\"")
            .replace("&#39;", "'")
            .replace("&lt;", "<")
            .replace("&gt;", ">")
            .replace("&amp;", "&"),
    )
}
